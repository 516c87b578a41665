"""What order lines want of one blend becomes tank loads: whole packages, as equal as can be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from blendshop.errors import BadInput
from blendshop.figures.readers import house
from orders.models import OrderLine, Package, Tank


@dataclass(frozen=True, slots=True)
class LoadPart:
    """So many packages (in bulk: whole gallons) of an order line, wanted or put into a load."""

    line: OrderLine
    quantity: int

    @property
    def gal(self) -> Decimal:
        return self.quantity * unit_gal(self.line.package)


Load = tuple[LoadPart, ...]
_BULK_UNIT_GAL: Final = Decimal(1)


def unit_gal(package: Package) -> Decimal:
    """Gallons of the smallest piece that is never divided: a package, in bulk a gallon."""
    return _BULK_UNIT_GAL if package.is_bulk else package.fill_gal


def split_into_loads(wanted: Sequence[LoadPart], tank: Tank) -> tuple[Load, ...]:
    """Loads of a tank that hold all that is wanted, in the order it is given.

    As few loads as dealing out whole packages in that order allows, the larger loads first. When
    all packages are of one size the loads are one package apart at most, so if the smallest lies
    below the tank's smallest batch no other split of as many loads would help: BadInput says
    what to do instead.
    """
    _require_fitting_packages(wanted, tank)
    # One load a package always works, so the search ends.
    count = _fewest(wanted, tank)
    while (loads := _dealt_out(wanted, count, tank)) is None:
        count += 1
    _require_enough(min(load_gal(load) for load in loads), tank)
    return loads


def filled_loads(wanted: Sequence[LoadPart], tank: Tank) -> tuple[Load, ...]:
    """Loads as full as whole packages make them, in the order given; what is left is the last.

    So nothing that comes later makes anything before it wait. BadInput as ``split_into_loads``
    where a package or all of it does not suit the tank.
    """
    _require_fitting_packages(wanted, tank)
    loads: list[Load] = []
    load: list[LoadPart] = []
    room_gal = Decimal(tank.capacity_gal)
    for part in wanted:
        unit, left = unit_gal(part.line.package), part.quantity
        while left:
            taken = min(left, math.floor(room_gal / unit))
            if taken:
                load.append(LoadPart(part.line, taken))
                room_gal -= taken * unit
                left -= taken
            if left:
                loads.append(tuple(load))
                load, room_gal = [], Decimal(tank.capacity_gal)
    loads.append(tuple(load))
    if len(loads) == 1:
        _require_enough(load_gal(load), tank)
    return tuple(loads)


def load_gal(parts: Sequence[LoadPart]) -> Decimal:
    """Gallons of all the parts together."""
    return sum((part.gal for part in parts), Decimal(0))


def _require_fitting_packages(wanted: Sequence[LoadPart], tank: Tank) -> None:
    for part in wanted:
        if unit_gal(part.line.package) > tank.capacity_gal:
            raise _refused(
                f"One {part.line.package.name} holds {_gal(unit_gal(part.line.package))} gal, more"
                f" than {tank.name} takes ({tank.capacity_gal} gal). Choose a larger tank."
            )


def _require_enough(smallest_gal: Decimal, tank: Tank) -> None:
    if smallest_gal < tank.smallest_gal:
        raise _refused(
            f"A load would be {_gal(smallest_gal)} gal, below the {tank.smallest_gal} gal"
            f" that {tank.name} can blend. Choose a smaller tank."
        )


def _fewest(wanted: Sequence[LoadPart], tank: Tank) -> int:
    """No fewer loads can hold it: by gallons, and by whole packages where all are of one size."""
    units = {unit_gal(part.line.package) for part in wanted}
    if len(units) == 1:
        a_load = math.floor(tank.capacity_gal / units.pop())
        return math.ceil(sum(part.quantity for part in wanted) / a_load)
    return math.ceil(load_gal(wanted) / tank.capacity_gal)


def _dealt_out(wanted: Sequence[LoadPart], count: int, tank: Tank) -> tuple[Load, ...] | None:
    """``count`` loads, each an equal share of what is left, rounded up; None if they overflow."""
    left = list(reversed(wanted))
    left_gal = load_gal(wanted)
    loads = []
    for loads_left in range(count, 0, -1):
        if not left:  # large packages filled the earlier loads beyond their equal share
            break
        if left_gal > loads_left * tank.capacity_gal:
            return None
        aim_gal = left_gal / loads_left
        load: list[LoadPart] = []
        in_gal = Decimal(0)
        while left and (short_gal := aim_gal - in_gal) > 0:
            first = left[-1]
            unit = unit_gal(first.line.package)
            room = math.floor((tank.capacity_gal - in_gal) / unit)
            taken = min(first.quantity, math.ceil(short_gal / unit), room)
            if taken == 0:
                break
            load.append(LoadPart(first.line, taken))
            in_gal += taken * unit
            left.pop()
            if rest := first.quantity - taken:
                left.append(LoadPart(first.line, rest))
        left_gal -= in_gal
        loads.append(tuple(load))
    return None if left else tuple(loads)


def _gal(gal: Decimal) -> str:
    return house().every_digit(gal)


def _refused(message: str) -> BadInput:
    return BadInput(message, fields={"tank": message})
