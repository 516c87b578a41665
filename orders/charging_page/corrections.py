"""When a weight is off: what to add so that every guarantee holds again, or what it can be."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from blendshop.money import money
from formulas.engine import correction as engine
from formulas.engine.as_made import SLOW_RELEASE
from formulas.engine.assay_check import Verdict
from formulas.engine.problem import NutrientWish, SlowReleaseWish, Stock
from formulas.engine.result import Finding
from formulas.engine_bridge import exact, saved_rules, to_engine
from formulas.models import BaseStock
from orders.charging_page.as_made import (
    Weighed,
    lot_figures,
    promised,
    still_to_come,
    weighed,
    when_finished,
)
from orders.charging_page.guarantee_names import guarantee_name
from orders.charging_page.steps import Step
from orders.models import Batch, StockLot
from orders.models.pounds import exact_pounds
from orders.stock_levels import suggested_lots

#: States in which additions may be accepted.
CORRECTABLE: Final = (Batch.Status.CHARGING, Batch.Status.MADE, Batch.Status.HELD)


@dataclass(frozen=True, slots=True)
class ProposedAddition:
    """Weigh in so much more; ``figures`` is a frozen step like those of the plan."""

    stock: BaseStock
    weight_lb: float
    figures: dict[str, Any]
    cost: Decimal

    @property
    def mass_lb(self) -> Decimal:
        """The weight, exact, as it is written down."""
        return exact_pounds(self.weight_lb)


@dataclass(frozen=True, slots=True)
class LowerLine:
    """One promise and what is left of it, percent; None when nothing can be guaranteed."""

    name: str
    was_pct: float
    now_pct: float | None


@dataclass(frozen=True, slots=True)
class LowerOffer:
    """The best the tank can honestly be sold as, with what has still to be added for it.

    ``digest`` stands for exactly this offer, so that what was seen is what is accepted.
    """

    grade: str
    minima_pct: dict[str, float]
    slow_release_min_pct: float | None
    lines: tuple[LowerLine, ...]
    additions: tuple[ProposedAddition, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to do about a tank that will miss a guarantee as it stands.

    ``extra_gal`` is what it makes beyond the plan. Without ``additions`` nothing helps:
    ``sentence`` says why and what the tank can be sold as, which ``offer`` is, if anything.
    ``digest`` stands for exactly these additions, so that what was seen is what is accepted.
    """

    additions: tuple[ProposedAddition, ...] = ()
    mass_lb: float = 0.0
    volume_gal: float = 0.0
    extra_gal: float = 0.0
    capacity_gal: float = 0.0
    cost: Decimal = Decimal(0)
    findings: tuple[Finding, ...] = ()
    sentence: str = ""
    offer: LowerOffer | None = None
    digest: str = ""


def proposal(batch: Batch, steps: Sequence[Step], today: date) -> Proposal | None:
    """None while every guarantee will hold once the rest is weighed in as planned."""
    finished = when_finished(batch, steps)
    begun = any(step.charges for step in steps)
    if finished is None or not begun or _holds(finished.guarantees):
        return None
    rows = _rows(steps)
    stocks = {code: _priced(row, today) for code, row in rows.items()}
    contents = [*weighed(steps), *still_to_come(steps)]
    minima, slow = promised(batch)
    answer = engine.correct(
        [
            engine.InTank(_with_figures(stocks[each.lot.stock], each), each.weight_lb)
            for each in contents
        ],
        list(_on_hand(steps, rows, stocks, today)),
        engine.Promise(
            wishes=tuple(NutrientWish(key, min_pct=least) for key, least in minima.items()),
            slow_release=None if slow is None else SlowReleaseWish(min_pct=slow),
            rules=saved_rules(),
            most_gal=batch.tank.capacity_gal,
        ),
        aim=_aim(stocks.values()),
    )
    if isinstance(answer, engine.CannotCorrect):
        return Proposal(
            sentence=answer.sentence,
            offer=None if answer.best is None else _offer(batch, answer.best, steps, rows),
            capacity_gal=batch.tank.capacity_gal,
        )
    return _proposal(batch, answer, steps, rows)


def _holds(guarantees: Sequence[Any]) -> bool:
    return all(check.verdict is Verdict.MEETS for check in guarantees)


def _rows(steps: Sequence[Step]) -> dict[str, BaseStock]:
    codes = {step.code for step in steps}
    return {row.code: row for row in BaseStock.objects.filter(code__in=codes).for_engine()}


def _priced(row: BaseStock, today: date) -> Stock:
    cost = row.cost_on(today)
    return to_engine(row, cost.per_lb() if cost else Decimal(0))


def _aim(stocks: Any) -> engine.Aim:
    """Least cost, unless a stock without a cost would count as free."""
    known = all(stock.cost_per_lb > 0 or stock.is_water for stock in stocks)
    return engine.Aim.COST if known else engine.Aim.MASS


def _with_figures(stock: Stock, each: Weighed) -> Stock:
    """The stock with the assay of the lot that was weighed."""
    return replace(
        stock, density_lb_per_gal=each.lot.density_lb_per_gal, analysis=each.lot.analysis
    )


def _on_hand(
    steps: Sequence[Step],
    rows: Mapping[str, BaseStock],
    stocks: Mapping[str, Stock],
    today: date,
) -> Iterator[engine.OnHand]:
    """What is left of each stock once the plan is weighed in, at the next lot's assay."""
    lots = suggested_lots(list(rows.values()), today)
    first = {step.code: step for step in reversed(steps)}
    for code, step in first.items():
        usable = lots[rows[code].pk]
        if not usable and not step.is_water:
            continue
        lot: StockLot | None = usable[0] if usable else None
        spoken_for = sum((s.left_lb for s in steps if s.code == code), Decimal(0))
        held = sum((each.on_hand_lb for each in usable), Decimal(0)) - spoken_for
        # Water from the main does not run out; the tank's size limits it.
        pounds = float(held) if usable else 1e6
        figures = Weighed(lot_figures(step.figures, lot), 0.0)
        stock = _with_figures(stocks[code], figures)
        scale = max(stock.scale_step_lb, step.figures["scale_step_lb"])
        yield engine.OnHand(replace(stock, scale_step_lb=scale), max(0.0, pounds))


def _proposal(
    batch: Batch, answer: engine.Corrected, steps: Sequence[Step], rows: Mapping[str, BaseStock]
) -> Proposal:
    additions = _additions(answer.additions, steps, rows)
    return Proposal(
        additions=additions,
        mass_lb=answer.mass_lb,
        volume_gal=answer.volume_gal,
        extra_gal=max(0.0, answer.volume_gal - batch.plan["volume_gal"]),
        capacity_gal=batch.tank.capacity_gal,
        cost=sum((each.cost for each in additions), Decimal(0)),
        findings=answer.findings,
        digest=_digest(batch, steps, additions),
    )


def _offer(
    batch: Batch, best: engine.BestGrade, steps: Sequence[Step], rows: Mapping[str, BaseStock]
) -> LowerOffer:
    minima, slow = promised(batch)
    now = {key: float(pct) for key, pct in best.guarantees.items()}
    now_slow = None if best.slow_release_pct is None else float(best.slow_release_pct)
    lines = [LowerLine(guarantee_name(key), was, now.get(key)) for key, was in minima.items()]
    if slow is not None:
        lines.append(LowerLine(guarantee_name(SLOW_RELEASE), slow, now_slow))
    additions = _additions(best.tank.additions, steps, rows)
    return LowerOffer(
        grade=best.grade,
        minima_pct=now,
        slow_release_min_pct=now_slow,
        lines=tuple(lines),
        additions=additions,
        digest=_digest(batch, steps, additions, best.grade, now, now_slow),
    )


def _additions(
    found: Sequence[engine.Addition], steps: Sequence[Step], rows: Mapping[str, BaseStock]
) -> tuple[ProposedAddition, ...]:
    """The engine's additions with the frozen figures a weighing needs."""
    first = {step.code: step.figures for step in reversed(steps)}
    additions = []
    for each in found:
        figures = {
            **first[each.code],
            "weight_lb": each.weight_lb,
            "volume_gal": round(each.weight_lb / first[each.code]["density_lb_per_gal"], 4),
        }
        figures.pop("running_total_lb", None)
        figures.pop("pct", None)
        additions.append(
            ProposedAddition(rows[each.code], each.weight_lb, figures, money(exact(each.cost)))
        )
    return tuple(additions)


def _digest(
    batch: Batch, steps: Sequence[Step], additions: Sequence[ProposedAddition], *more: Any
) -> str:
    """Of the tank as it is and of what was shown about it."""
    weights = [(each.stock.code, each.weight_lb) for each in additions]
    seen = [batch.pk, [c.pk for step in steps for c in step.charges], weights, *more]
    return hashlib.sha256(json.dumps(seen, sort_keys=True).encode()).hexdigest()[:16]
