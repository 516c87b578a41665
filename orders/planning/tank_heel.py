"""What a load will find in its tank, and whether it can be made onto that or asks for a flush.

The tank's ledger says what is in it now. A batch that is planned for the tank and not begun yet
comes first, so a later load is planned onto the heel of that batch and never as if it found the
tank as it is today.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from blendshop.figures.readers import house
from formulas.engine.composition import content_pct, guarantee_name
from formulas.engine.plant.changeover import CarryOverKind, TankBatch, carry_over
from formulas.engine.plant.load import Heel
from orders.frozen.load_plan import Cleanout, PlanFinding, PlannedHeel
from orders.models import Batch, Tank
from orders.planning.load_question import LoadRecipe
from orders.planning.windows import RINSE, SAME_PRODUCT
from orders.tanks.contents import last_in
from orders.tanks.heel import (
    BY_PLAN,
    EmptyTank,
    HeelLeft,
    TankHeel,
    UnknownTank,
    heel_of,
    usual_heel,
)
from orders.tanks.mixing import mixed, planned_portions

#: What a heel meets that a flush is asked for: what no rule can be read for is no "all clear".
_NOT_TOGETHER: Final = (CarryOverKind.FLUSH, CarryOverKind.LOOK)
#: A heel this close to what was counted is the same, as a share of it.
_SAME_HEEL: Final = 0.1


def heel_before(tank: Tank) -> TankHeel:
    """What the next load of the tank is charged onto, behind all that is planned for it."""
    waiting = Batch.objects.filter(tank=tank, status=Batch.Status.PLANNED).order_by("-pk").first()
    if waiting is None:
        return heel_of(tank)
    held = usual_heel(mixed(waiting, planned_portions(waiting), None, BY_PLAN), tank)
    volume, mass = house().volume(held.volume_gal, 0), house().mass(held.mass_lb, 0)
    return HeelLeft(
        heel=Heel(held.mass_lb, held.volume_gal, held.analysis),
        words=f"About {volume} ({mass}) of {held.product} will be left: {held.basis}.",
        product=held.product,
        batches=held.batches,
        stocks=held.stocks,
        knows_stocks=held.knows_stocks,
        is_expected=True,
    )


def moved_since_planned(batch: Batch) -> str:
    """Why a batch that is next in its tank should be planned again: not what it was planned onto.

    Empty while it is, and for batches that are not next or are begun.
    """
    plan = batch.load_plan
    waiting = Batch.objects.filter(tank=batch.tank, status=Batch.Status.PLANNED)
    is_next = not waiting.filter(pk__lt=batch.pk).exists()
    if batch.status != Batch.Status.PLANNED or not plan.has_tolerances or not is_next:
        return ""
    found = heel_of(batch.tank)
    if isinstance(found, UnknownTank):
        return ""  # asked for by itself before anything is charged
    found_lb = found.heel.mass_lb if isinstance(found, HeelLeft) else 0.0
    if plan.heel is None:
        if plan.cleanout.flush or not found_lb:
            return ""
        now = found.words
        return (
            f"These weights are planned into an empty tank. {now} Flush, or plan this load again."
        )
    is_same = isinstance(found, HeelLeft) and found.batch_numbers[:1] == plan.heel.batches[:1]
    if is_same and abs(found_lb - plan.heel.mass_lb) <= _SAME_HEEL * plan.heel.mass_lb:
        return ""
    counted = house().mass(plan.heel.mass_lb, 0)
    return (
        f"These weights count in {counted} that were to be left in the tank. Now: {found.words}"
        " Plan this load again."
    )


@dataclass(frozen=True, slots=True)
class Onto:
    """What a load is planned onto. ``flush`` says why it cannot be; then ``heel`` is None."""

    found: TankHeel
    heel: Heel | None = None
    flush: tuple[str, ...] = ()
    findings: tuple[PlanFinding, ...] = ()

    def flushed(self, why: str) -> Onto:
        """The same tank after a flush that is asked for."""
        return Onto(self.found, None, (*self.flush, why))

    @property
    def frozen_heel(self) -> PlannedHeel | None:
        """What is counted in the load."""
        if self.heel is None or not isinstance(self.found, HeelLeft):
            return None
        return PlannedHeel(
            mass_lb=self.heel.mass_lb,
            volume_gal=self.heel.volume_gal,
            analysis=dict(self.heel.analysis),
            words=self.found.words,
            batches=self.found.batch_numbers,
        )


def onto(tank: Tank, found: TankHeel, recipe: LoadRecipe, volume_gal: float) -> Onto:
    """Whether a load of the recipe can be made onto what is found, by rules and zero guarantees.

    Whether its promises can be kept beside it the plan finds out.
    """
    if not isinstance(found, HeelLeft):
        return Onto(found)
    met = list(_meetings(tank, found, recipe, volume_gal))
    flush = (
        *(words for kind, words, _ in met if kind in _NOT_TOGETHER),
        *_must_be_absent(found, recipe),
    )
    if not found.knows_stocks:
        flush = (*flush, f"Of which stocks {found.product} is made is not known.")
    if found.heel.volume_gal >= volume_gal:
        flush = (*flush, f"{found.product} is more than this load.")
    if flush:
        return Onto(found, None, tuple(dict.fromkeys(flush)))
    jar_tests = tuple(
        PlanFinding("jar_test", "caution", words, source)
        for kind, words, source in met
        if kind is CarryOverKind.JAR_TEST
    )
    return Onto(found, found.heel if found.heel.mass_lb > 0 else None, (), jar_tests)


def cleanout(onto: Onto, recipe: LoadRecipe) -> Cleanout:
    """What is in the tank before the load and what to do about it, for page and ticket."""
    found = onto.found
    if isinstance(found, UnknownTank):
        look = "Look into it and sign what is in it, or rinse it, before anything is charged."
        return Cleanout("", f"{found.words} {look} {RINSE}")
    if isinstance(found, EmptyTank):
        return Cleanout("none, empty and rinsed", f"{found.words} Signed by {found.who}.")
    if onto.flush:
        return Cleanout(found.product, " ".join(["Flush first.", *onto.flush, RINSE]), flush=True)
    counted = "" if onto.heel is None else f" {found.words} It is counted in these weights."
    if _is_same(found, recipe):
        return Cleanout(found.product, f"{SAME_PRODUCT}{counted}")
    return Cleanout(found.product, f"Drain the tank; no rinse is needed.{counted}")


def _meetings(
    tank: Tank, found: HeelLeft, recipe: LoadRecipe, volume_gal: float
) -> Iterator[tuple[CarryOverKind, str, str]]:
    last = last_in(tank, found)
    if last.held is None:
        return
    stocks = [stock for stock in recipe.stocks if stock.code in recipe.pct]
    after = TankBatch(
        code=str(recipe.revision),
        name=str(recipe.revision),
        stocks=tuple(stocks),
        pct=tuple(recipe.pct[stock.code] for stock in stocks),
        volume_gal=volume_gal,
    )
    change = carry_over(last.held, after, recipe.rules, heel_gal=last.heel_gal)
    for meeting in change.meetings:
        yield meeting.kind, meeting.words, meeting.source


def _must_be_absent(found: HeelLeft, recipe: LoadRecipe) -> Iterator[str]:
    """Zero guarantees and stocks the customer wanted to be without."""
    for key, most in recipe.promise.maxima_pct.items():
        if most == 0 and content_pct(found.heel.analysis, key) > 0:
            yield f"{found.product} holds {guarantee_name(key)}, and this load is to hold none."
    unwanted = set(recipe.revision.wished.exclude)
    for stock in found.stocks:
        if stock.code in unwanted:
            yield f"{found.product} holds {stock.name}, which this load is to be without."


def _is_same(found: HeelLeft, recipe: LoadRecipe) -> bool:
    """Whether the heel is of the same revision."""
    newest = Batch.objects.filter(number__in=found.batch_numbers[:1]).first()
    return newest is not None and newest.load_plan.revision_id == recipe.revision.pk
