"""What was asked for over the year and what became of it, from a fixed seed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from random import Random
from typing import Final

from orders.demo.year import calendar
from orders.demo.year.blends import ALWAYS, ASKED_IN
from orders.demo.year.people_and_places import CUSTOMERS, Customer

SEED: Final = 265
QUOTES: Final = 235
#: Won in the last two weeks, so that orders wait in every month the demo is looked at.
JUST_WON: Final = 15
#: Out and not answered yet.
STILL_OUT: Final = 9
REORDERS: Final = 30
VALID_DAYS: Final = 30
_LAST_DAYS: Final = 10


class Fate(Enum):
    """What became of an offer; of one that is not answered yet, what it waits for."""

    WON = "won"
    DECLINED = "declined"
    SILENT = "silent"
    WITHDRAWN = "withdrawn"
    REORDERED = "reordered"


_FATES: Final = {Fate.WON: 64, Fate.DECLINED: 20, Fate.SILENT: 12, Fate.WITHDRAWN: 4}
#: Why it was declined, and how often beside the others.
REASONS: Final = {
    "Price: another offer was lower.": 9,
    "Delivery too late for our round.": 5,
    "We still have totes from last season.": 4,
    "The contract for these lawns was lost.": 2,
    "Wanted more slow release for the money.": 3,
}
WITHDRAWN_BECAUSE: Final = "Asked for by mistake: the customer called. Demo, invented."
_QUANTITIES: Final = (1, 1, 1, 2, 2, 2, 2, 3, 3, 4)


@dataclass(frozen=True, slots=True)
class Ask:
    """One offer or reorder. ``answered`` is None while, or where, nobody answered."""

    day: date
    minutes: int
    customer: Customer
    blend: str
    quantity: int
    fate: Fate
    answered: date | None = None
    reason: str = ""
    off_pct: Decimal | None = None

    @property
    def is_ordered(self) -> bool:
        return self.fate in (Fate.WON, Fate.REORDERED) and self.answered is not None

    @property
    def lead_days(self) -> int:
        """Working days from the order to its due date."""
        return 8 + self.minutes % 6


def asks_of(today: date) -> list[Ask]:
    """All of the year, the oldest first."""
    chance = Random(SEED)  # noqa: S311 - the same plant each time, no secret
    days = calendar.working_days(today)
    busy = [calendar.BUSY[day.month - 1] for day in days]
    found = [_offer(chance, day, today) for day in chance.choices(days, busy, k=QUOTES)]
    found += [
        _of(chance, day, Fate.REORDERED, day) for day in chance.choices(days, busy, k=REORDERS)
    ]
    found += [
        _of(chance, day, Fate.WON, min(calendar.after(day, 1), days[-1]))
        for day in chance.choices(days[-_LAST_DAYS:], k=JUST_WON)
    ]
    found += [
        _of(chance, day, Fate.SILENT, None)
        for day in chance.choices(days[-2 * _LAST_DAYS :], k=STILL_OUT)
    ]
    return sorted(found, key=lambda ask: (ask.day, ask.minutes))


def _offer(chance: Random, day: date, today: date) -> Ask:
    fate = chance.choices(list(_FATES), list(_FATES.values()))[0]
    answered: date | None = calendar.after(day, 1 + min(12, int(chance.expovariate(1 / 3.5))))
    if fate is Fate.SILENT or (answered and answered >= today):
        answered = None
    return _of(chance, day, fate, answered)


def _of(chance: Random, day: date, fate: Fate, answered: date | None) -> Ask:
    customer = chance.choices(CUSTOMERS, [each.often for each in CUSTOMERS])[0]
    wanted = [ASKED_IN.get(blend, ALWAYS)[day.month - 1] for blend in customer.blends]
    declined = fate is Fate.DECLINED
    reason = chance.choices(list(REASONS), list(REASONS.values()))[0] if declined else ""
    return Ask(
        day=day,
        minutes=chance.randrange(7 * 60 + 30, 14 * 60),
        customer=customer,
        blend=chance.choices(customer.blends, wanted)[0],
        quantity=chance.choice(_QUANTITIES),
        fate=fate,
        answered=answered,
        reason=reason,
        off_pct=Decimal(chance.choice("1234568")) if chance.random() < 0.16 else None,
    )


def ordered(asks: Sequence[Ask]) -> list[Ask]:
    """Those that became orders, by the day they did."""
    won = (ask for ask in asks if ask.is_ordered)
    return sorted(won, key=lambda ask: (ask.answered or ask.day, ask.day, ask.minutes))
