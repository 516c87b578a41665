"""The tank of a correction: what is in it, what it must hold, and additions checked in full.

Whatever the solver answers is recomputed here from the weights that will be weighed, and refused
if any promise, rule, capacity or stock on hand is not kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final

import numpy as np

from formulas.engine.blend.choices import rule_is_broken
from formulas.engine.blend.findings import recipe_findings
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import TABLE_KEYS, content_table
from formulas.engine.composition import NITROGEN_FORMS, slow_release_pct_of_n, with_total_n
from formulas.engine.density.mixing import volume_gal
from formulas.engine.mark import Mark
from formulas.engine.plant.correction_program import (
    Guard,
    Steps,
    TankRows,
    least_steps,
    tank_rows,
    wish_guards,
)
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    FieldError,
    Fill,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.result import EngineFailure, Finding, Severity
from formulas.engine.validate import stock_errors, validate

#: Percentage points by which a promise may be missed after weighing: float noise only.
_NOISE_PCT: Final = 1e-8
#: Dollars per lb that break ties towards the smaller addition (and pounds towards the cheaper).
_TIE: Final = 1e-6
#: Relatively; closer than this to the best is the best.
_PROVEN_GAP: Final = 1e-6


class Aim(StrEnum):
    """What a correction keeps smallest."""

    COST = "cost"
    MASS = "mass"


@dataclass(frozen=True, slots=True)
class InTank:
    """A charge: ``stock`` carries the assay and density of the lot; codes may repeat."""

    stock: Stock
    weight_lb: float


@dataclass(frozen=True, slots=True)
class OnHand:
    """What may be added; ``stock`` carries the assay of the lot that would be used."""

    stock: Stock
    weight_lb: float


@dataclass(frozen=True, slots=True)
class Promise:
    """What the finished tank must hold: wishes, slow share, rules, and the tank's own size."""

    wishes: tuple[NutrientWish, ...] = ()
    slow_release: SlowReleaseWish | None = None
    rules: tuple[CompatibilityRule, ...] = ()
    most_gal: float | None = None
    most_lb: float | None = None


@dataclass(frozen=True, slots=True)
class Addition:
    """Weigh in ``steps`` whole steps of the stock's scale; ``cost`` in dollars."""

    code: str
    weight_lb: float
    steps: int
    cost: float


@dataclass(frozen=True, slots=True)
class Corrected:
    """Additions in charging order (none: the tank keeps its promises as it is) and the result.

    ``gap`` above 0: the search ended for its work, and so much of the cost (or mass) saved is not
    ruled out, relatively.
    """

    additions: tuple[Addition, ...]
    added_lb: float
    added_cost: float
    mass_lb: float
    volume_gal: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    findings: tuple[Finding, ...]
    gap: float = 0.0


class NotFound(ValueError):
    """No addition keeps what was asked; raised only inside the engine."""


@dataclass(frozen=True, slots=True)
class Tank:
    """A checked question: rows of the tank and what it must hold."""

    rows: TankRows
    promise: Promise
    aim: Aim

    @classmethod
    def of(
        cls, tank: Sequence[InTank], on_hand: Sequence[OnHand], promise: Promise, aim: Aim
    ) -> Tank:
        """Raises ``BadProblem`` naming every wrong field."""
        _refuse(tank, on_hand, promise)
        rows = tank_rows(
            [(charge.stock, charge.weight_lb) for charge in tank],
            [(offer.stock, offer.weight_lb) for offer in on_hand],
            promise.rules,
            most_gal=promise.most_gal,
            most_lb=promise.most_lb,
        )
        return cls(rows, promise, aim)

    @property
    def guards(self) -> tuple[Guard, ...]:
        """Every side of every promised wish."""
        stocks = self.rows.all_stocks
        return tuple(wish_guards(stocks, self.promise.wishes, self.promise.slow_release))

    @property
    def problem(self) -> BlendProblem:
        """The promise as a question about all stocks, for whoever puts its limits into words."""
        return BlendProblem(
            stocks=tuple({stock.code: stock for stock in self.rows.all_stocks}.values()),
            wishes=self.promise.wishes,
            slow_release=self.promise.slow_release,
            rules=self.promise.rules,
        )

    @property
    def cost(self) -> Floats:
        """Dollars (or pounds) per lb of each stock on hand, ties broken by the other."""
        price = np.array([stock.cost_per_lb for stock in self.rows.offered], dtype=float)
        return price + _TIE if self.aim is Aim.COST else 1.0 + _TIE * price

    def corrected(self, guards: Sequence[Guard]) -> Corrected:
        """The least addition that keeps ``guards``; raises ``NotFound``, ``TooLarge``."""
        steps = least_steps(self.rows, guards, self.cost)
        if steps is None:
            raise NotFound
        return self._checked(guards, steps)

    def _checked(self, guards: Sequence[Guard], found: Steps) -> Corrected:
        """Recompute everything from the weights that will be weighed, and refuse a miss."""
        rows, steps = self.rows, found.count
        added = np.array(
            [
                float(Fraction(str(stock.scale_step_lb)) * int(count))
                for stock, count in zip(rows.offered, steps, strict=True)
            ]
        )
        lb = np.concatenate([rows.tank_lb, added])
        mass = float(lb.sum())
        for guard in (*rows.standing, *guards):
            if float(guard.row @ lb) / mass < -_NOISE_PCT:
                raise EngineFailure(f"The additions do not keep {guard.limit}.")
        if (steps < 0).any() or (added > rows.on_hand_lb * (1 + 1e-9)).any():
            raise EngineFailure("An addition is negative or more than what is on hand.")
        for row, most in rows.room:
            if float(row @ lb) > most * (1 + 1e-9):
                raise EngineFailure("The additions do not fit into the tank.")
        stocks, pct = _shares(rows.all_stocks, lb)
        new = [rule for rule in self.promise.rules if rule not in rows.already_broken]
        if any(rule_is_broken(rule, stocks, pct) for rule in new):
            raise EngineFailure("The additions break a compatibility rule.")
        contents = lb @ content_table(rows.all_stocks) / mass
        analysis = {key: float(pct) for key, pct in zip(TABLE_KEYS, contents, strict=True)}
        forms = {key: pct for key, pct in analysis.items() if key != "N"}
        volume = volume_gal(rows.all_stocks, lb.tolist())
        return Corrected(
            additions=tuple(self._additions(added, steps)),
            added_lb=float(added.sum()),
            added_cost=float(added @ [stock.cost_per_lb for stock in rows.offered]),
            mass_lb=mass,
            volume_gal=volume,
            density_lb_per_gal=mass / volume,
            analysis=with_total_n(forms),
            slow_release_pct=slow_release_pct_of_n({form: forms[form] for form in NITROGEN_FORMS}),
            findings=(
                *_not_proven(found.gap),
                *self._late_charges(added),
                *recipe_findings(stocks, pct, self.promise.rules),
            ),
            gap=found.gap,
        )

    def _additions(self, added: Floats, steps: Floats) -> list[Addition]:
        found = [
            (stock.charging_rank, Addition(stock.code, lb, int(count), lb * stock.cost_per_lb))
            for stock, lb, count in zip(self.rows.offered, added.tolist(), steps, strict=True)
            if lb > 0
        ]
        return [addition for _, addition in sorted(found, key=lambda each: (each[0], each[1].code))]

    def _late_charges(self, added: Floats) -> Iterator[Finding]:
        last = max(self.rows.tank, key=lambda stock: stock.charging_rank)
        for stock, lb in zip(self.rows.offered, added, strict=True):
            if lb > 0 and stock.charging_rank < last.charging_rank:
                message = (
                    f"{stock.name} is normally charged before {last.name}, which is already in "
                    "the tank: add it slowly with the agitator running and stop if the tank warms, "
                    "foams, smells or clouds. Try it in a jar first."
                )
                yield Finding("charged_late", Severity.CAUTION, message, Mark.COMMON_PRACTICE)


def _not_proven(gap: float) -> Iterator[Finding]:
    if gap > _PROVEN_GAP:
        message = (
            "These additions keep every promise, but the search for the smallest ended at the work "
            f"it may take: up to {100.0 * gap:.2g} % less is not ruled out."
        )
        yield Finding("not_proven_smallest", Severity.CAUTION, message, "follows from the search")


def _shares(stocks: Sequence[Stock], lb: Floats) -> tuple[tuple[Stock, ...], Floats]:
    """Distinct stocks and their shares in percent; lots of one stock are one stock."""
    weight: dict[str, float] = {}
    first: dict[str, Stock] = {}
    for stock, pounds in zip(stocks, lb, strict=True):
        first.setdefault(stock.code, stock)
        weight[stock.code] = weight.get(stock.code, 0.0) + float(pounds)
    pct: Floats = np.array(list(weight.values())) * (100.0 / sum(weight.values()))
    return tuple(first.values()), pct


def _refuse(tank: Sequence[InTank], on_hand: Sequence[OnHand], promise: Promise) -> None:
    errors: list[FieldError] = []
    both: tuple[tuple[str, Sequence[InTank | OnHand]], ...] = (("tank", tank), ("on_hand", on_hand))
    for name, entries in both:
        for index, entry in enumerate(entries):
            errors += (
                FieldError(error.field.replace("stocks.0", f"{name}.{index}.stock"), error.message)
                for error in stock_errors((entry.stock,))
            )
            if not (math.isfinite(entry.weight_lb) and entry.weight_lb >= 0):
                message = "A weight must be a number, 0 or more."
                errors.append(FieldError(f"{name}.{index}.weight_lb", message))
    codes = [offer.stock.code for offer in on_hand]
    errors += (
        FieldError("on_hand", f"{code} is offered twice.")
        for code in sorted({code for code in codes if codes.count(code) > 1})
    )
    if not any(charge.weight_lb > 0 for charge in tank):
        errors.append(FieldError("tank", "Nothing is in the tank yet."))
    for name, most in (("most_gal", promise.most_gal), ("most_lb", promise.most_lb)):
        if most is not None and not (math.isfinite(most) and most > 0):
            errors.append(FieldError(name, "The tank's size must be a number above 0."))
    if errors:
        raise BadProblem(tuple(errors))
    validate(
        BlendProblem(
            stocks=(tank[0].stock,),
            wishes=promise.wishes,
            slow_release=promise.slow_release,
            rules=promise.rules,
            fill=Fill(mass_lb=1.0),
        )
    )
