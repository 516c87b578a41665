"""An order line becomes tank loads: whole packages, as equal as they can be."""

from __future__ import annotations

import math
from decimal import Decimal

from blendshop.errors import BadInput
from orders.models import Package, Tank


def split_into_loads(quantity: int, package: Package, tank: Tank) -> tuple[int, ...]:
    """Packages (in bulk: whole gallons) of each tank load, the larger loads first.

    As few loads as the capacity allows, their sizes one package apart at most. That makes the
    smallest load as large as it can be, so if it lies below the tank's smallest batch no other
    split of the same number of loads would help: BadInput says what to do instead.
    """
    unit_gal = Decimal(1) if package.is_bulk else package.fill_gal
    most = math.floor(tank.capacity_gal / unit_gal)
    if most < 1:
        raise _refused(
            f"One {package.name} holds {unit_gal.normalize():f} gal, more than {tank.name} takes"
            f" ({tank.capacity_gal} gal). Choose a larger tank."
        )
    loads = math.ceil(quantity / most)
    each, left_over = divmod(quantity, loads)
    smallest_gal = each * unit_gal
    if smallest_gal < tank.smallest_gal:
        raise _refused(
            f"A load would be {smallest_gal.normalize():f} gal, below the {tank.smallest_gal} gal"
            f" that {tank.name} can blend. Choose a smaller tank."
        )
    return (each + 1,) * left_over + (each,) * (loads - left_over)


def load_volume_gal(quantity: int, package: Package) -> float:
    """Gallons of a load."""
    return float(quantity if package.is_bulk else quantity * package.fill_gal)


def _refused(message: str) -> BadInput:
    return BadInput(message, fields={"tank": message})
