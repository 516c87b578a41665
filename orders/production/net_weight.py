"""Net pounds: of a package that was weighed its own weight, of any other the one estimate.

Label, packing list, order page and the report of tons all ask here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from formulas.engine.label.printed_figures import net
from formulas.engine_bridge import exact
from orders.models import Batch, BatchPart, OrderLine
from orders.production.density_read import BatchDensity
from orders.production.made_record import MadeRecord, densities, ordered_packages

_NONE: Final = Decimal(0)


@dataclass(frozen=True, slots=True)
class NetWeight:
    """Pounds of so many packages, weighed and not."""

    weighed: int = 0
    weighed_lb: Decimal = _NONE
    estimated: int = 0
    estimated_lb: Decimal = _NONE

    def __add__(self, other: NetWeight) -> NetWeight:
        return NetWeight(
            self.weighed + other.weighed,
            self.weighed_lb + other.weighed_lb,
            self.estimated + other.estimated,
            self.estimated_lb + other.estimated_lb,
        )

    @property
    def lb(self) -> Decimal:
        return self.weighed_lb + self.estimated_lb

    @property
    def packages(self) -> int:
        return self.weighed + self.estimated


def package_gal(part: BatchPart) -> float:
    """What one package of a part holds; in bulk the whole part."""
    return part.consignment.filled_gal / part.package_count


def estimated_package_lb(record: MadeRecord, part: BatchPart) -> Decimal:
    """What a package that was not weighed holds, rounded down as its label prints it."""
    return _package_lb(part, record.density)


def net_weights(parts: Iterable[BatchPart]) -> dict[int, NetWeight]:
    """What goes to each part's order of it, by its id; few queries whatever their number.

    The parts bring their packages.
    """
    of = list(parts)
    filled = {part.pk: ordered_packages(part, list(part.packages.all())) for part in of}
    missing = {part.pk: max(0, part.package_count - len(filled[part.pk])) for part in of}
    read = densities(part.batch_id for part in of if missing[part.pk])
    return {
        part.pk: NetWeight(
            weighed=len(filled[part.pk]),
            weighed_lb=sum((package.net_lb for package in filled[part.pk]), _NONE),
            estimated=left,
            estimated_lb=left * _package_lb(part, read[part.batch_id]) if left else _NONE,
        )
        for part in of
        for left in [missing[part.pk]]
    }


def planned_parts(line: OrderLine) -> list[BatchPart]:
    """The parts of an order line in loads that were not given up."""
    return [part for part in line.parts.all() if part.batch.status != Batch.Status.CANCELLED]


def line_net_weight(line: OrderLine, of_parts: Mapping[int, NetWeight]) -> NetWeight:
    """What an order line weighs by now; ``of_parts`` are the ``net_weights`` of its parts."""
    weights = (of_parts[part.pk] for part in planned_parts(line))
    return sum(weights, unplanned_net_weight(line))


def unplanned_net_weight(line: OrderLine) -> NetWeight:
    """Of an order line what no load is planned for, as it was accepted."""
    rest = line.quantity - sum(part.quantity for part in planned_parts(line))
    if rest <= 0:
        return NetWeight()
    lb = exact(line.mass_lb) * rest / line.quantity
    return NetWeight(estimated=1 if line.package.is_bulk else rest, estimated_lb=lb)


def _package_lb(part: BatchPart, density: BatchDensity) -> Decimal:
    return net(package_gal(part) * density.lb_per_gal)
