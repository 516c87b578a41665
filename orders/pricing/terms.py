"""Under what terms a quote is priced: the shop's rates, margin policy, delivery. Frozen."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from orders.pricing.checks import PricingError, require_count, require_decimal

#: Short ton: fertilizer tonnage is reported and charged by the ton of 2,000 lb.
LB_PER_TON: Final = Decimal(2000)
#: Largest gross weight of truck and load on the US Interstate System, where neither the bridge
#: formula nor a state's own limit says otherwise: 23 U.S.C. 127(a), 23 CFR 658.17(b); Federal
#: Highway Administration, "Questions and Answers About Vehicle Size and Weight".
FEDERAL_GROSS_LIMIT_LB: Final = Decimal(80_000)

_ZERO = Decimal(0)
_HUNDRED = Decimal(100)


class StepCode(StrEnum):
    """The lines of a price, in the order in which they are added up."""

    MATERIAL = "material"
    SHRINK = "shrink"
    BLENDING_BATCH = "blending_batch"
    BLENDING_VOLUME = "blending_volume"
    PACKAGE = "package"
    LAB = "lab"
    TONNAGE = "tonnage_fee"
    FREIGHT = "freight"
    MARGIN = "margin"
    DISCOUNT = "discount"
    QUOTE_DISCOUNT = "quote_discount"
    DEPOSIT = "deposit"


#: What a customer reads as taken off, on a line and on the whole quote.
DISCOUNTS: Final = frozenset({StepCode.DISCOUNT, StepCode.QUOTE_DISCOUNT})
#: Charges that a policy may pass on at cost, and that a customer may see on a line of their own.
OPEN_STEPS: Final = frozenset(
    {StepCode.PACKAGE, StepCode.LAB, StepCode.TONNAGE, StepCode.FREIGHT},
)


class MarginKind(StrEnum):
    """``gross_margin``: percent of the selling price; ``markup``: percent of the cost."""

    GROSS_MARGIN = "gross_margin"
    MARKUP = "markup"


@dataclass(frozen=True, slots=True, kw_only=True)
class TonnageFee:
    """A state's inspection or tonnage fee in dollars per ton, with its legal citation."""

    state: str
    per_ton: Decimal
    citation: str

    def __post_init__(self) -> None:
        require_decimal("tonnage_fee.per_ton", self.per_ton, at_least=_ZERO)
        if not self.citation.strip():
            raise PricingError("tonnage_fee.citation", "a state fee needs its citation.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopRates:
    """What the plant adds to material: shrink in percent of it, fees in dollars."""

    shrink_pct: Decimal = _ZERO
    blending_per_batch: Decimal = _ZERO
    blending_per_gal: Decimal = _ZERO
    lab_per_batch: Decimal = _ZERO
    tonnage: TonnageFee | None = None

    def __post_init__(self) -> None:
        require_decimal("rates.shrink_pct", self.shrink_pct, at_least=_ZERO, below=_HUNDRED)
        require_decimal("rates.blending_per_batch", self.blending_per_batch, at_least=_ZERO)
        require_decimal("rates.blending_per_gal", self.blending_per_gal, at_least=_ZERO)
        require_decimal("rates.lab_per_batch", self.lab_per_batch, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityBreak:
    """Margin points given up on the gallons beyond ``above_gal`` of the whole quote."""

    above_gal: Decimal
    points_off: Decimal

    def __post_init__(self) -> None:
        require_decimal("margin.breaks.above_gal", self.above_gal, above=_ZERO)
        require_decimal("margin.breaks.points_off", self.points_off, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginPolicy:
    """Margin of one customer tier, in percent; below ``floor_pct`` the office must approve.

    A quantity break counts only for the gallons beyond it, and only on costs that grow with
    the gallons; batch, lab and freight charges keep the full margin. So a larger order of the
    same blend never has a smaller total. ``pass_through`` charges carry no margin.
    """

    tier: str
    target_pct: Decimal
    floor_pct: Decimal = _ZERO
    kind: MarginKind = MarginKind.GROSS_MARGIN
    breaks: tuple[QuantityBreak, ...] = ()
    pass_through: frozenset[StepCode] = frozenset({StepCode.TONNAGE})

    def __post_init__(self) -> None:
        if self.kind not in tuple(MarginKind):
            raise PricingError("margin.kind", f"{self.kind!r} is unknown.")
        gross = self.kind == MarginKind.GROSS_MARGIN
        limit = _HUNDRED if gross else None
        require_decimal("margin.target_pct", self.target_pct, at_least=_ZERO, below=limit)
        require_decimal("margin.floor_pct", self.floor_pct, at_least=_ZERO, below=limit)
        if self.floor_pct > self.target_pct:
            raise PricingError("margin.floor_pct", "the floor is above the target margin.")
        starts = [step.above_gal for step in self.breaks]
        if starts != sorted(set(starts)):
            raise PricingError("margin.breaks", "must rise in gallons, each one once.")
        if any(step.points_off > self.target_pct for step in self.breaks):
            raise PricingError("margin.breaks", "give up more points than the target margin has.")
        require_open_steps("margin.pass_through", self.pass_through)


@dataclass(frozen=True, slots=True, kw_only=True)
class Truck:
    """A vehicle: empty weight, gross limit, and the limits of its own it may have.

    ``payload_limit_lb`` is a legal or rated payload below gross minus empty weight (a local
    bridge, an axle group); ``package_places`` the packages that find room on the deck;
    ``capacity_gal`` the volume of a tanker. The defaults are the federal gross limit and none:
    local law and the carrier decide what may really be loaded.
    """

    name: str
    empty_lb: Decimal
    gross_limit_lb: Decimal = FEDERAL_GROSS_LIMIT_LB
    payload_limit_lb: Decimal | None = None
    package_places: int | None = None
    capacity_gal: Decimal | None = None

    def __post_init__(self) -> None:
        require_decimal("truck.gross_limit_lb", self.gross_limit_lb, above=_ZERO)
        require_decimal("truck.empty_lb", self.empty_lb, above=_ZERO, below=self.gross_limit_lb)
        if self.payload_limit_lb is not None:
            require_decimal("truck.payload_limit_lb", self.payload_limit_lb, above=_ZERO)
        if self.package_places is not None:
            require_count("truck.package_places", self.package_places, at_least=1)
        if self.capacity_gal is not None:
            require_decimal("truck.capacity_gal", self.capacity_gal, above=_ZERO)

    @property
    def payload_lb(self) -> Decimal:
        """What may be loaded, packages included."""
        room = self.gross_limit_lb - self.empty_lb
        return room if self.payload_limit_lb is None else min(room, self.payload_limit_lb)


@dataclass(frozen=True, slots=True, kw_only=True)
class FreightZone:
    """Dollars per truck load, per package, per gallon in bulk; minimum for the shipment."""

    code: str
    per_load: Decimal = _ZERO
    per_package: Decimal = _ZERO
    per_bulk_gal: Decimal = _ZERO
    minimum: Decimal = _ZERO

    def __post_init__(self) -> None:
        require_decimal("zone.per_load", self.per_load, at_least=_ZERO)
        require_decimal("zone.per_package", self.per_package, at_least=_ZERO)
        require_decimal("zone.per_bulk_gal", self.per_bulk_gal, at_least=_ZERO)
        require_decimal("zone.minimum", self.minimum, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """To which zone, on which deck truck, and in which tanker if anything goes in bulk."""

    zone: FreightZone
    deck_truck: Truck
    tanker: Truck | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteTerms:
    """What all lines of a quote share; ``delivery`` None means picked up at the plant.

    ``agreed_freight`` is what a rep agreed for all of it, in dollars, instead of the zone's tariff.
    It is charged as it is, without margin.
    """

    rates: ShopRates
    margin: MarginPolicy
    delivery: Delivery | None = None
    shown_to_customer: frozenset[StepCode] = frozenset({StepCode.PACKAGE, StepCode.TONNAGE})
    currency: str = "USD"
    agreed_freight: Decimal | None = None

    def __post_init__(self) -> None:
        if self.agreed_freight is not None:
            require_decimal("agreed_freight", self.agreed_freight, at_least=_ZERO)
            if self.delivery is None:
                raise PricingError("agreed_freight", "is not charged on what is picked up.")
        require_open_steps("shown_to_customer", self.shown_to_customer)


def require_open_steps(field: str, steps: frozenset[StepCode]) -> None:
    """Refuse a step that may not leave the plant's own view of a price."""
    if closed := sorted(steps - OPEN_STEPS):
        raise PricingError(field, f"{', '.join(closed)} cannot be shown or passed on alone.")
