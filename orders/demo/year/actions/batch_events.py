"""What became of each load, written once everything in it is known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from blendshop.accounts.models import User
from formulas.engine.composition import content_pct, slow_release_pct_of_n
from orders.demo.year.actions.batches import DONE, Made
from orders.demo.year.actions.dated import put_in
from orders.demo.year.actions.people import People
from orders.demo.year.corrections import RELEASED_ALL_THE_SAME, TOO_MUCH
from orders.demo.year.weighing import Course
from orders.frozen.tank_contents import TankContents
from orders.models import Batch, BatchEvent
from orders.production.release_checks import release_hindrances

#: Minutes after a release at which its packages are filled.
_FILLED: Final = 50
Status = Batch.Status


def add_batch_events(
    made: Sequence[Made], came_out: Mapping[int, TankContents], people: People
) -> None:
    """Planned, charged, made and released; by a formulator where something stood in the way.

    ``came_out`` is what each batch held in the end, by its id.
    """
    events = [
        event
        for each in made
        for event in _events(each, _in_the_way(each, came_out[each.batch.pk]), people)
    ]
    put_in(BatchEvent, sorted(events, key=lambda event: event.at))


def _in_the_way(each: Made, held: TankContents) -> list[str]:
    """What the release asks a formulator about; it is looked at only where something is below."""
    promised = each.plan.promised
    minima = {**promised.minima_pct, **{k: float(v) for k, v in each.plan.printed_pct.items()}}
    slow, least = slow_release_pct_of_n(held.analysis), promised.slow_release_min_pct
    is_below = any(content_pct(held.analysis, key) < pct for key, pct in minima.items())
    if is_below or (least is not None and (slow or 0.0) < least):
        return release_hindrances(each.batch)
    return []


def _events(each: Made, hindrances: list[str], people: People) -> Iterator[BatchEvent]:
    def event(
        at: datetime, old: str, new: str, why: str, by: User = people.plant, **more: Any
    ) -> BatchEvent:
        return BatchEvent(
            batch=each.batch, at=at, by=by, who=str(by), from_status=old, to_status=new,
            why=why[:400], **more,
        )  # fmt: skip

    orders = ", ".join(placed.order.number for placed in each.placed)
    first = each.plan.steps[0].name
    yield event(each.batch.created_at, "", Status.PLANNED, f"Planned for order {orders}.")
    begun = each.at(each.weighed.weights[0].minutes)
    yield event(begun, Status.PLANNED, Status.CHARGING, f"First charge: {first}.")
    if each.weighed.course is Course.CORRECTED:
        plain = each.weighed.weights[len(each.plan.steps) - 1].minutes
        yield event(each.at(plain + DONE), Status.CHARGING, Status.MADE, "")
        corrected = each.at(plain + DONE + 15)
        yield event(corrected, Status.MADE, Status.CHARGING, TOO_MUCH)
    yield event(each.done_at, Status.CHARGING, Status.MADE, "")
    why, by = (RELEASED_ALL_THE_SAME, people.formulator) if hindrances else ("", people.plant)
    data = {"hindrances": hindrances}
    yield event(each.released_at, Status.MADE, Status.RELEASED, why, by, data=data)
    filled = each.released_at + timedelta(minutes=_FILLED)
    count = sum(part.package_count for part in each.parts)
    yield event(filled, Status.RELEASED, Status.RELEASED, f"Filled {count} packages.")
