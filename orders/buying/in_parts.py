"""One purchase, or several where the stock's storage does not take all of it at once. Pure.

The house's own rule (common practice, no source): each purchase is as much as fits beside what is
still there on the day it has to come, and the next one comes before that runs out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from orders.buying.expected import ZERO, Arrival, Booking, Supply, Week, runs_out_on

#: More purchases of one stock than this are no plan; the last one is then of all that lacks.
MOST_PARTS: Final = 52


@dataclass(frozen=True, slots=True)
class Sold:
    """How a stock is sold: ``packs_for`` gives whole steps for some pounds, at least the least
    order."""

    pack_lb: Decimal
    packs_for: Callable[[Decimal], int]


@dataclass(frozen=True, slots=True)
class Part:
    """One purchase: what runs out without it, by when it has to be here, how much.

    ``is_over_storage``: the supplier sells no less, and it does not fit.
    """

    runs_out_on: date
    needed_on: date
    packs: int
    lb: Decimal
    is_over_storage: bool = False


def in_parts(
    weeks: Sequence[Week],
    bookings: Iterable[Booking],
    supply: Supply,
    *,
    sold: Sold | None,
    storage_lb: Decimal | None,
    unusable_lb: Decimal,
    needed_before: Callable[[date], date],
) -> tuple[Part, ...]:
    """What to buy so that nothing lacks at the end of the weeks; () where nothing does.

    ``storage_lb`` None: not known, and one purchase covers all. ``unusable_lb`` takes up room and
    covers nothing. Without ``sold`` just what lacks is bought.
    """
    booked = tuple(bookings)
    found: list[Part] = []
    while (out := runs_out_on(weeks, booked, supply)) is not None:
        lacking = weeks[-1].expected - supply.by(_end(weeks))
        if lacking <= 0:
            break
        needed = needed_before(out)
        room = None
        if storage_lb is not None and len(found) < MOST_PARTS - 1:
            charged = sum((b.lb for b in booked if needed_before(b.day) < needed), ZERO)
            taken = max(_taken(weeks, needed), charged)
            room = storage_lb - unusable_lb - max(ZERO, supply.by(needed) - taken)
        part = _part(out, needed, lacking, room, sold)
        found.append(part)
        supply = supply.with_arrival(Arrival(needed, part.lb))
    return tuple(found)


def _part(
    out: date, needed: date, lacking: Decimal, room: Decimal | None, sold: Sold | None
) -> Part:
    if sold is None:
        fits = lacking if room is None or room <= 0 else min(lacking, room)
        return Part(out, needed, 0, fits, room is not None and room <= 0)
    packs = sold.packs_for(lacking)
    if room is not None and packs * sold.pack_lb > room:
        least = sold.packs_for(sold.pack_lb)
        packs = max(least, int(max(ZERO, room) // sold.pack_lb))
    lb = packs * sold.pack_lb
    return Part(out, needed, packs, lb, room is not None and lb > room)


def _taken(weeks: Sequence[Week], day: date) -> Decimal:
    """What is expected to be taken by a day: that of whole weeks before it, so never too much."""
    before = [week for week in weeks if week.first_day + timedelta(weeks=1) <= day]
    return before[-1].expected if before else ZERO


def _end(weeks: Sequence[Week]) -> date:
    return weeks[-1].first_day + timedelta(days=6)
