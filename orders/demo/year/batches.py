"""Which orders were made together, in which tank and when they left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import count
from typing import Final

from orders.demo.year import calendar
from orders.demo.year.quotes import Ask

#: Totes a load may hold; so many go into the small tank.
_MOST: Final = 4
_SMALL: Final = 2
#: Working days between the first and the last order of one load.
_TOGETHER: Final = 4
#: Minutes after midnight at which a tank is charged: once a day, after it was filled and rinsed.
CHARGED_AT: Final = 12 * 60 + 15
#: One order in so many left some days after it was due.
_LATE: Final = 11


@dataclass(slots=True)
class Order:
    """An order of the year by its ask; the place in ``ordered`` is its number."""

    number: int
    ask: Ask
    made_on: date | None = None
    shipped_on: date | None = None

    @property
    def ordered_on(self) -> date:
        return self.ask.answered or self.ask.day

    @property
    def due_on(self) -> date:
        return calendar.after(self.ordered_on, self.ask.lead_days)


@dataclass(slots=True)
class Load:
    """Orders of one blend made as one tank load; ``tank`` is 0 (small) or 1."""

    orders: list[Order] = field(default_factory=list)
    tank: int = 0
    made_on: date = date.min

    @property
    def blend(self) -> str:
        return self.orders[0].ask.blend

    @property
    def totes(self) -> int:
        return sum(order.ask.quantity for order in self.orders)

    @property
    def planned_on(self) -> date:
        return max(order.ordered_on for order in self.orders)

    @property
    def released_on(self) -> date:
        return calendar.after(self.made_on, 1)


def loads_of(asks: Sequence[Ask], today: date) -> tuple[list[Order], list[Load]]:
    """The orders by number, and the loads that were released before today, in time."""
    orders = [Order(number, ask) for number, ask in enumerate(asks)]
    taken: set[tuple[date, int]] = set()
    loads = []
    for load in sorted(_grouped(orders), key=lambda each: each.planned_on):
        _place(load, taken)
        if load.released_on >= today:
            continue  # still to be made: its orders are open
        loads.append(load)
        for order in load.orders:
            order.made_on = load.made_on
            late = order.number % _LATE == 0
            leaves = calendar.after(load.released_on, order.number % 2)
            if late:
                leaves = calendar.after(max(leaves, order.due_on), 1 + order.number % 4)
            order.shipped_on = leaves if leaves < today else None
    return orders, sorted(loads, key=lambda each: (each.made_on, each.tank))


def _grouped(orders: Sequence[Order]) -> Iterator[Load]:
    open_loads: dict[str, Load] = {}
    for order in orders:
        load = open_loads.get(order.ask.blend)
        if load is not None:
            last = calendar.after(load.orders[0].ordered_on, _TOGETHER)
            if order.ordered_on <= last and load.totes + order.ask.quantity <= _MOST:
                load.orders.append(order)
                continue
            yield load
        open_loads[order.ask.blend] = Load([order])
    yield from open_loads.values()


def _place(load: Load, taken: set[tuple[date, int]]) -> None:
    """The first time a tank is free, from the second working day on."""
    tanks = (0, 1) if load.totes <= _SMALL else (1,)
    for days in count(2):
        day = calendar.after(load.planned_on, days)
        for tank in tanks:
            if (day, tank) not in taken:
                taken.add((day, tank))
                load.tank, load.made_on = tank, day
                return
