"""What the tanks make on which working day: loads put one after the other. Pure.

A tank works through its loads in the order they are put. A load takes the tank's minutes of a
load and, where it must not meet what is left of the load before, a flush before it. Each of the
two is begun only on a day that has the minutes for all of it: nothing stands half made overnight.
Days are numbered; 1 is the first working day that counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import InitVar, dataclass, field
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class TankPace:
    """A tank and the minutes it takes; one that is not ``in_use`` makes only what is planned."""

    key: int
    smallest_gal: Decimal
    capacity_gal: Decimal
    day_min: int
    load_min: int
    flush_min: int
    in_use: bool = True

    @classmethod
    def minutes_a_load(cls, day_min: int, loads_a_day: int) -> int:
        """Whole minutes, rounded down, so that the loads of a day fit the day."""
        return day_min // loads_a_day

    def takes(self, volume_gal: Decimal) -> bool:
        """Whether one load of it can be so many gallons."""
        return self.in_use and self.smallest_gal <= volume_gal <= self.capacity_gal


@dataclass(frozen=True, slots=True)
class _Clock:
    """How far a tank's work reaches: this day is used so far, what went in last stays in it."""

    day: int
    used_min: int
    last: int | None

    def after(self, minutes: int, day_min: int) -> tuple[int, int]:
        if self.used_min and self.used_min + minutes > day_min:
            return self.day + 1, minutes
        return self.day, self.used_min + minutes


#: (blend before, blend after, tank) -> whether the tank is flushed in between.
NeedsFlush = Callable[[int, int, int], bool]


@dataclass(slots=True)
class TankDays:
    """The loads of all tanks so far. Blends are numbers; ``needs_flush`` knows two of them.

    ``begin`` is what is in each tank; one without is empty and rinsed.
    """

    tanks: Sequence[TankPace]
    needs_flush: NeedsFlush
    begin: InitVar[Mapping[int, int]]
    _clocks: dict[int, _Clock] = field(init=False)
    _paces: Mapping[int, TankPace] = field(init=False)

    def __post_init__(self, begin: Mapping[int, int]) -> None:
        self._paces = {tank.key: tank for tank in self.tanks}
        self._clocks = {tank.key: _Clock(1, 0, begin.get(tank.key)) for tank in self.tanks}

    def copy(self) -> TankDays:
        """To try something out without this one knowing."""
        other = TankDays(self.tanks, self.needs_flush, {})
        other._clocks = dict(self._clocks)
        return other

    def put(self, tank: int, blend: int, *, begun: bool = False) -> int:
        """The next load of a tank; the number of the day on which it is made.

        For a load that is ``begun`` the tank is flushed already.
        """
        self._clocks[tank] = clock = self._with(tank, blend, begun=begun)
        return clock.day

    def put_soonest(self, blend: int, volume_gal: Decimal, otherwise: int) -> int:
        """A load in the tank that has it made first, of those that take it; the day's number.

        Of equal days the least used, then the smallest tank; ``otherwise`` where none takes it.
        """
        taking = [tank for tank in self.tanks if tank.takes(volume_gal)]
        soonest = min(
            ((tank, self._with(tank.key, blend)) for tank in taking or [self._paces[otherwise]]),
            key=_rank,
        )
        tank, clock = soonest
        self._clocks[tank.key] = clock
        return clock.day

    def put_all_soonest(self, blend: int, volumes_gal: Iterable[Decimal], otherwise: int) -> int:
        """Several loads; the number of the day on which the last of them is made."""
        return max(self.put_soonest(blend, each, otherwise) for each in volumes_gal)

    def _with(self, tank: int, blend: int, *, begun: bool = False) -> _Clock:
        pace, clock = self._paces[tank], self._clocks[tank]
        flushes = not begun and clock.last is not None and clock.last != blend
        if flushes and clock.last is not None and self.needs_flush(clock.last, blend, tank):
            day, used_min = clock.after(pace.flush_min, pace.day_min)
            clock = _Clock(day, used_min, None)
        return _Clock(*clock.after(pace.load_min, pace.day_min), blend)


def _rank(choice: tuple[TankPace, _Clock]) -> tuple[int, int, Decimal, int]:
    tank, clock = choice
    return clock.day, clock.used_min, tank.capacity_gal, tank.key
