"""What one order line gets of a tank load, as it was frozen: to whom, where, in what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Place(Snapshot):
    """Where the product is sprayed; ``state`` is the postal code, the rest may be empty."""

    state: str
    county: str
    place: str


@dataclass(frozen=True, slots=True)
class PackageName(Snapshot):
    name: str
    plural_name: str
    is_bulk: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Consignment(Snapshot):
    """``BatchPart.delivery``: customer, ship-to, order, package and gallons of that minute.

    ``volume_gal`` is the part's share of what is weighed in, ``asked_gal`` what its packages take:
    a load with room holds somewhat more. None in parts of before.
    ``printed_pct`` are the label lines promised of the part's own product, percent by key; a load
    of several products keeps the highest of each. Empty in parts of before there were any.
    ``product_name`` is what the customer ordered, also in a load planned by another's name;
    None in parts of before, which have the load's.
    """

    customer_name: str
    ship_to_lines: tuple[str, ...]
    ship_to: Place
    order_number: str
    n_rate_lb_per_1000sqft: float | None
    package: PackageName
    volume_gal: float
    asked_gal: float | None = None
    printed_pct: Mapping[str, Decimal] = field(default_factory=dict)
    product_name: str | None = None

    @property
    def filled_gal(self) -> float:
        """What its packages hold together: what was asked, or less where the load is less."""
        return self.volume_gal if self.asked_gal is None else min(self.asked_gal, self.volume_gal)
