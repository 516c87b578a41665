"""When a weight is off: what to add so that every guarantee holds again, or what it can be."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final, TypedDict

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import reader
from blendshop.money import money
from formulas.engine.composition import SLOW_RELEASE, content_pct, guarantee_name
from formulas.engine.density.mixing import volume_gal as modelled_gal
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant import correction as engine
from formulas.engine.result import Finding
from formulas.engine.work.effort import TooLarge
from formulas.engine_bridge import exact, saved_rules
from formulas.models import BaseStock
from formulas.wording.corrections import cannot_correct_words
from orders.frozen.load_plan import Weighing
from orders.models import Batch
from orders.models.pounds import exact_pounds
from orders.production.as_made import (
    heel_under,
    promised,
    still_to_come,
    weighed,
    when_finished,
    wished_most,
)
from orders.production.new_targets import (
    NewTarget,
    NewTargets,
    in_heel,
    new_targets,
    rest_of_load,
)
from orders.production.promise import promised_limits
from orders.production.sold_as import jurisdiction
from orders.production.steps import Step
from orders.production.substitute_stocks import (
    AvailableStocks,
    recipe_stocks,
    with_figures,
    with_substitute_stocks,
)
from orders.production.tank_gallons import TankGallons

#: States in which additions may be accepted.
CORRECTABLE: Final = (Batch.Status.CHARGING, Batch.Status.MADE, Batch.Status.HELD)

_NOT_DECIDED: Final = gettext_lazy(
    "Whether additions can put this right takes more work to find out than one answer may. Hold the"
    " tank and ask a formulator."
)
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
    targets: tuple[NewTarget, ...]
    additions: tuple[ProposedAddition, ...]
    digest: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to do about a tank that will miss a promise as it stands.

    ``targets`` are new ones for weighings still to come, ``additions`` weighings behind the plan,
    which come in only where new targets cannot do it. The recipe's own stocks come first;
    ``outside`` names what the customer wanted at most and does not get, ``new_stocks`` those that
    come into the blend only by this. ``extra_gal`` is what it makes beyond the plan. Without
    targets and additions nothing helps: ``sentence`` says why and what the tank can be sold as,
    which ``offer`` is, if anything. ``digest`` stands for exactly this, so that what was seen is
    what is accepted.
    """

    targets: tuple[NewTarget, ...] = ()
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

    @property
    def helps(self) -> bool:
        """Whether there is something to do."""
        return bool(self.targets or self.additions)


def proposal(batch: Batch, steps: Sequence[Step], today: date) -> Proposal | None:
    """None while every promise will hold once the rest is weighed in as planned.

    Where the plan has tolerances, "as planned" is every weight on target. Where an answer takes
    more work than it may, that is what the proposal says: the charging screen stays.
    """
    try:
        return _decided(batch, steps, today)
    except TooLarge:
        return Proposal(sentence=str(_NOT_DECIDED), capacity_gal=batch.tank.capacity_gal)


def _decided(batch: Batch, steps: Sequence[Step], today: date) -> Proposal | None:
    finished = when_finished(batch, steps)
    begun = any(step.charges for step in steps)
    if finished is None or not begun:
        return None
    holds = finished.keeps_all
    if holds and not batch.load_plan.has_tolerances:
        return None
    own = recipe_stocks(steps, today)
    rest = rest_of_load(batch, steps, today, available=own)
    is_off = rest is not None and not (holds and rest.keeps_every_promise)
    if rest is not None and is_off and (found := new_targets(rest)):
        return _retargeted(batch, found, own)
    if holds:
        return None
    answer = refused = _asked(batch, steps, own)
    # Giving up the maxima helps where a guarantee is missed, not where one of them is exceeded.
    if isinstance(answer, engine.CannotCorrect) and not _holds(finished.guarantees):
        answer = _asked(batch, steps, own, keeps_maxima=False)
    available = own
    if isinstance(answer, engine.CannotCorrect):
        available = with_substitute_stocks(own, batch, today)
        answer = _asked(batch, steps, available)
    if isinstance(answer, engine.Corrected):
        return _with_room(batch, steps, _proposal(batch, answer, steps, available), today)
    offer = None
    if isinstance(refused, engine.CannotCorrect) and refused.best is not None:
        offer = _offer(batch, refused.best, steps, own)
    sentence = cannot_correct_words(refused) if isinstance(refused, engine.CannotCorrect) else ""
    return Proposal(sentence=sentence, offer=offer, capacity_gal=batch.tank.capacity_gal)


def _asked(
    batch: Batch, steps: Sequence[Step], available: AvailableStocks, *, keeps_maxima: bool = True
) -> engine.Corrected | engine.CannotCorrect:
    wishes, slow_release = promised_limits(batch, keeps_maxima=keeps_maxima)
    return engine.correct(
        [
            *(engine.InTank(stock, pounds) for stock, pounds in in_heel(heel_under(batch))),
            *(
                engine.InTank(with_figures(available.stocks[each.lot.stock], each), each.weight_lb)
                for each in [*weighed(steps), *still_to_come(steps)]
            ),
        ],
        list(available.on_hand),
        engine.Promise(
            wishes=wishes,
            slow_release=slow_release,
            rules=saved_rules(),
            most_gal=_gallons(batch).in_model(float(batch.tank.capacity_gal)),
        ),
        aim=available.aim,
        jurisdiction=_jurisdiction(batch),
    )


def _jurisdiction(batch: Batch) -> str | None:
    """The state in whose decimals a lower grade is offered; None where parts go to several."""
    states = {jurisdiction(part) for part in batch.parts.all()}
    return states.pop() if len(states) == 1 else None


def _gallons(batch: Batch) -> TankGallons:
    heel = heel_under(batch)
    stocks, pounds = zip(*in_heel(heel), strict=True) if in_heel(heel) else ((), ())
    return TankGallons(
        heel_gal=0.0 if heel is None else heel.volume_gal,
        modelled_heel_gal=modelled_gal(stocks, pounds) if stocks else 0.0,
        density_correction=batch.load_plan.density_correction,
    )


def _holds(guarantees: Sequence[Any]) -> bool:
    return all(check.verdict is Verdict.MEETS for check in guarantees)


def _outside(batch: Batch, answer: engine.Corrected) -> tuple[str, ...]:
    """What the customer wanted at most and the corrected tank exceeds, in words."""
    maxima, slow_max = wished_most(batch)
    found = [
        _at_most(key, most)
        for key, most in maxima.items()
        if content_pct(answer.analysis, key) > most + _NOISE_PCT
    ]
    if slow_max is not None and (answer.slow_release_pct or 0.0) > slow_max + _NOISE_PCT:
        found.append(_at_most(SLOW_RELEASE, slow_max))
    return tuple(found)


def _at_most(key: str, most: float) -> str:
    return _("%(key)s at most %(most)s %%") % {
        "key": guarantee_name(key),
        "most": reader().significant(most),
    }


def _proposal(
    batch: Batch, answer: engine.Corrected, steps: Sequence[Step], available: AvailableStocks
) -> Proposal:
    additions = _additions(answer.additions, available)
    in_recipe = {step.code for step in steps}
    raised, behind = _raised_first(steps, additions)
    volume_gal = _gallons(batch).of_model(answer.volume_gal)
    return Proposal(
        targets=raised,
        additions=behind,
        **_filled(batch, answer.mass_lb, volume_gal),
        capacity_gal=batch.tank.capacity_gal,
        cost=sum((each.cost for each in additions), Decimal(0)),
        findings=answer.findings,
        outside=_outside(batch, answer),
        new_stocks=tuple(each.stock for each in additions if each.stock.code not in in_recipe),
        digest=_digest(batch, steps, additions),
    )


def _with_room(batch: Batch, steps: Sequence[Step], nominal: Proposal, today: date) -> Proposal:
    """The correction with room for every weight on target, where its plan has tolerances.

    A correction to the pound would be off with the first weight that is not, and be offered
    again. Where there is no such room it stays as it is.
    """
    if not batch.load_plan.has_tolerances:
        return nominal
    lots = {step.number: lot for step in steps if step.changes and (lot := step.changes[-1].lot)}
    raised = {target.step.number: target for target in nominal.targets}
    as_raised = [
        replace(
            step,
            planned=replace(step.planned, weight_lb=raised[step.number].figures.weight_lb),
            changes=(),
        )
        if step.number in raised
        else step
        for step in steps
    ]
    behind = [
        Step(number, each.figures, (), why="correction")
        for number, each in enumerate(nominal.additions, start=len(steps) + 1)
    ]
    rest = rest_of_load(batch, [*as_raised, *behind], today, lots=lots)
    found = None if rest is None else new_targets(rest)
    if rest is None or found is None:
        return nominal
    figures = {target.step.number: target.figures for target in found.targets}
    targets = {
        step.number: NewTarget(
            step,
            figures[step.number] if step.number in figures else raised[step.number].figures,
            lots.get(step.number),
        )
        for step in steps
        if step.number in figures or step.number in raised
    }
    additions = tuple(
        _reweighed(each, figures.get(step.number, each.figures), rest.available)
        for step, each in zip(behind, nominal.additions, strict=True)
    )
    more_lb = [(target.step.code, target.more_lb) for target in targets.values()]
    cost = sum((_cost(rest.available, code, lb) for code, lb in more_lb), Decimal(0))
    return replace(
        nominal,
        targets=tuple(targets.values()),
        additions=additions,
        **_filled(batch, found.load.net_weight_lb, found.load.volume_gal),
        cost=money(cost + sum((each.cost for each in additions), Decimal(0))),
        digest=_digest(
            batch, steps, additions, [str(target.weight_lb) for target in targets.values()]
        ),
    )


class _Filled(TypedDict):
    """What the tank holds after a correction, and how much of it is beyond the plan."""

    mass_lb: float
    volume_gal: float
    extra_gal: float


def _filled(batch: Batch, mass_lb: float, volume_gal: float) -> _Filled:
    extra_gal = max(0.0, volume_gal - batch.load_plan.volume_gal)
    return {"mass_lb": mass_lb, "volume_gal": volume_gal, "extra_gal": extra_gal}


def _reweighed(
    each: ProposedAddition, figures: Weighing, available: AvailableStocks
) -> ProposedAddition:
    cost = _cost(available, each.stock.code, exact(figures.weight_lb))
    return replace(each, weight_lb=figures.weight_lb, figures=figures, cost=money(cost))


def _cost(available: AvailableStocks, code: str, pounds: Decimal) -> Decimal:
    return exact(available.stocks[code].cost_per_lb) * pounds


def _retargeted(batch: Batch, found: NewTargets, available: AvailableStocks) -> Proposal:
    cost = sum(
        (_cost(available, target.step.code, target.more_lb) for target in found.targets),
        Decimal(0),
    )
    return Proposal(
        targets=found.targets,
        **_filled(batch, found.load.net_weight_lb, found.load.volume_gal),
        capacity_gal=batch.tank.capacity_gal,
        cost=money(cost),
        findings=found.load.findings,
        digest=found.digest,
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
    raised, behind = _raised_first(steps, additions)
    return LowerOffer(
        grade=best.grade,
        minima_pct=now,
        slow_release_min_pct=now_slow,
        lines=tuple(lines),
        targets=raised,
        additions=behind,
        digest=_digest(batch, steps, additions, best.grade, now, now_slow),
    )


def _raised_first(
    steps: Sequence[Step], additions: Sequence[ProposedAddition]
) -> tuple[tuple[NewTarget, ...], tuple[ProposedAddition, ...]]:
    """Additions of a stock whose weighing is still to come raise it; the others go behind."""
    waiting = {step.code: step for step in steps if not step.charges}
    raised = tuple(
        NewTarget(step, _with_more(step, each.weight_lb), None)
        for each in additions
        if (step := waiting.get(each.stock.code))
    )
    return raised, tuple(each for each in additions if each.stock.code not in waiting)


def _with_more(step: Step, more_lb: float) -> Weighing:
    return Weighing.of_stock(step.figures, float(step.target_lb + exact_pounds(more_lb)))


def _additions(
    found: Sequence[engine.Addition], available: AvailableStocks
) -> tuple[ProposedAddition, ...]:
    """The engine's additions with the frozen figures a weighing needs."""
    return tuple(
        ProposedAddition(
            available.rows[each.code],
            each.weight_lb,
            Weighing.of_stock(available.figures[each.code], each.weight_lb),
            money(exact(each.cost)),
        )
        for each in found
    )


def _digest(
    batch: Batch, steps: Sequence[Step], additions: Sequence[ProposedAddition], *more: Any
) -> str:
    """Of the tank as it is and of what was shown about it."""
    weights = [(each.stock.code, each.weight_lb) for each in additions]
    seen = [batch.pk, [c.pk for step in steps for c in step.charges], weights, *more]
    return hashlib.sha256(json.dumps(seen, sort_keys=True).encode()).hexdigest()[:16]
