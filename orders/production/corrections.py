"""When a weight is off: what to add so that every guarantee holds again, or what it can be."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from blendshop.figures.readers import reader
from blendshop.money import money
from formulas.engine.composition import SLOW_RELEASE, content_pct, guarantee_name
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant import correction as engine
from formulas.engine.problem import NutrientWish, SlowReleaseWish
from formulas.engine.result import Finding
from formulas.engine_bridge import exact, saved_rules
from formulas.models import BaseStock
from formulas.wording.corrections import cannot_correct_words
from orders.frozen.load_plan import Weighing
from orders.models import Batch
from orders.models.pounds import exact_pounds
from orders.production.as_made import promised, still_to_come, weighed, when_finished, wished_most
from orders.production.steps import Step
from orders.production.substitute_stocks import (
    AvailableStocks,
    recipe_stocks,
    with_figures,
    with_substitute_stocks,
)

#: States in which additions may be accepted.
CORRECTABLE: Final = (Batch.Status.CHARGING, Batch.Status.MADE, Batch.Status.HELD)

#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ProposedAddition:
    """Weigh in so much more; ``figures`` is a frozen weighing like those of the plan."""

    stock: BaseStock
    weight_lb: float
    figures: Weighing
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

    The recipe's own stocks come first; ``outside`` names what the customer wanted at most and
    does not get, ``new_stocks`` those that come into the blend only by this. ``extra_gal`` is
    what it makes beyond the plan. Without ``additions`` nothing helps:
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
    outside: tuple[str, ...] = ()
    new_stocks: tuple[BaseStock, ...] = ()
    sentence: str = ""
    offer: LowerOffer | None = None
    digest: str = ""


def proposal(batch: Batch, steps: Sequence[Step], today: date) -> Proposal | None:
    """None while everything promised will hold once the rest is weighed in as planned."""
    finished = when_finished(batch, steps)
    begun = any(step.charges for step in steps)
    if finished is None or not begun or finished.keeps_all:
        return None
    own = recipe_stocks(steps, today)
    answer = refused = _asked(batch, steps, own)
    # Giving up the maxima helps where a guarantee is missed, not where one of them is exceeded.
    if isinstance(answer, engine.CannotCorrect) and not _holds(finished.guarantees):
        answer = _asked(batch, steps, own, keeps_maxima=False)
    available = own
    if isinstance(answer, engine.CannotCorrect):
        available = with_substitute_stocks(own, batch, today)
        answer = _asked(batch, steps, available)
    if isinstance(answer, engine.Corrected):
        return _proposal(batch, answer, steps, available)
    offer = None
    if isinstance(refused, engine.CannotCorrect) and refused.best is not None:
        offer = _offer(batch, refused.best, steps, own)
    sentence = cannot_correct_words(refused) if isinstance(refused, engine.CannotCorrect) else ""
    return Proposal(sentence=sentence, offer=offer, capacity_gal=batch.tank.capacity_gal)


def _asked(
    batch: Batch, steps: Sequence[Step], available: AvailableStocks, *, keeps_maxima: bool = True
) -> engine.Corrected | engine.CannotCorrect:
    minima, slow = promised(batch)
    maxima, slow_max = wished_most(batch) if keeps_maxima else ({}, None)
    return engine.correct(
        [
            engine.InTank(with_figures(available.stocks[each.lot.stock], each), each.weight_lb)
            for each in [*weighed(steps), *still_to_come(steps)]
        ],
        list(available.on_hand),
        engine.Promise(
            wishes=tuple(
                NutrientWish(key, min_pct=minima.get(key), max_pct=maxima.get(key))
                for key in dict.fromkeys([*minima, *maxima])
            ),
            slow_release=(
                None
                if slow is None and slow_max is None
                else SlowReleaseWish(min_pct=slow, max_pct=slow_max)
            ),
            rules=saved_rules(),
            most_gal=batch.tank.capacity_gal,
        ),
        aim=available.aim,
    )


def _holds(guarantees: Sequence[Any]) -> bool:
    return all(check.verdict is Verdict.MEETS for check in guarantees)


def _outside(batch: Batch, answer: engine.Corrected) -> tuple[str, ...]:
    """What the customer wanted at most and the corrected tank exceeds, in words."""
    maxima, slow_max = wished_most(batch)
    found = [
        f"{guarantee_name(key)} at most {reader().significant(most)} %"
        for key, most in maxima.items()
        if content_pct(answer.analysis, key) > most + _NOISE_PCT
    ]
    if slow_max is not None and (answer.slow_release_pct or 0.0) > slow_max + _NOISE_PCT:
        found.append(f"{guarantee_name(SLOW_RELEASE)} at most {reader().significant(slow_max)} %")
    return tuple(found)


def _proposal(
    batch: Batch, answer: engine.Corrected, steps: Sequence[Step], available: AvailableStocks
) -> Proposal:
    additions = _additions(answer.additions, available)
    in_recipe = {step.code for step in steps}
    return Proposal(
        additions=additions,
        mass_lb=answer.mass_lb,
        volume_gal=answer.volume_gal,
        extra_gal=max(0.0, answer.volume_gal - batch.load_plan.volume_gal),
        capacity_gal=batch.tank.capacity_gal,
        cost=sum((each.cost for each in additions), Decimal(0)),
        findings=answer.findings,
        outside=_outside(batch, answer),
        new_stocks=tuple(each.stock for each in additions if each.stock.code not in in_recipe),
        digest=_digest(batch, steps, additions),
    )


def _offer(
    batch: Batch, best: engine.BestGrade, steps: Sequence[Step], available: AvailableStocks
) -> LowerOffer:
    minima, slow = promised(batch)
    now = {key: float(pct) for key, pct in best.guarantees.items()}
    now_slow = None if best.slow_release_pct is None else float(best.slow_release_pct)
    lines = [LowerLine(guarantee_name(key), was, now.get(key)) for key, was in minima.items()]
    if slow is not None:
        lines.append(LowerLine(guarantee_name(SLOW_RELEASE), slow, now_slow))
    additions = _additions(best.tank.additions, available)
    return LowerOffer(
        grade=best.grade,
        minima_pct=now,
        slow_release_min_pct=now_slow,
        lines=tuple(lines),
        additions=additions,
        digest=_digest(batch, steps, additions, best.grade, now, now_slow),
    )


def _additions(
    found: Sequence[engine.Addition], available: AvailableStocks
) -> tuple[ProposedAddition, ...]:
    """The engine's additions with the frozen figures a weighing needs."""
    additions = []
    for each in found:
        stock = available.figures[each.code]
        figures = Weighing.extending(
            stock,
            weight_lb=each.weight_lb,
            volume_gal=round(each.weight_lb / stock.density_lb_per_gal, 4),
        )
        additions.append(
            ProposedAddition(
                available.rows[each.code], each.weight_lb, figures, money(exact(each.cost))
            )
        )
    return tuple(additions)


def _digest(
    batch: Batch, steps: Sequence[Step], additions: Sequence[ProposedAddition], *more: Any
) -> str:
    """Of the tank as it is and of what was shown about it."""
    weights = [(each.stock.code, each.weight_lb) for each in additions]
    seen = [batch.pk, [c.pk for step in steps for c in step.charges], weights, *more]
    return hashlib.sha256(json.dumps(seen, sort_keys=True).encode()).hexdigest()[:16]
