"""What is priced: a recipe in a package. Pounds, US gallons, dollars; frozen Decimals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from orders.pricing.checks import PricingError, require_count, require_decimal
from orders.pricing.discount import Discount
from orders.pricing.wording import number

_ZERO = Decimal(0)
_HUNDRED = Decimal(100)


class PackageKind(StrEnum):
    """How the product leaves the plant. Only ``tote_deposit`` carries a deposit."""

    TOTE_SOLD = "tote_sold"
    TOTE_DEPOSIT = "tote_deposit"
    TOTE_RETURNED = "tote_returned"
    DRUM = "drum"
    BULK = "bulk"

    @property
    def label(self) -> str:
        return _KIND_WORDS[self]


_KIND_WORDS: Final[Mapping[PackageKind, str]] = {
    PackageKind.TOTE_SOLD: "tote, sold",
    PackageKind.TOTE_DEPOSIT: "tote, on deposit",
    PackageKind.TOTE_RETURNED: "tote, customer's own or returned",
    PackageKind.DRUM: "drum",
    PackageKind.BULK: "bulk tanker",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeLine:
    """One stock: pounds weighed for the whole quantity priced, today's cost in dollars per lb."""

    code: str
    name: str
    lb: Decimal
    cost_per_lb: Decimal

    def __post_init__(self) -> None:
        require_decimal(f"recipe.{self.code}.lb", self.lb, above=_ZERO)
        require_decimal(f"recipe.{self.code}.cost_per_lb", self.cost_per_lb, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMaterial:
    """What the pounds of a recipe are when they are those of a plan with room for weighing.

    ``net_lb`` is the weight of the ordered gallons. The recipe makes ``made_gal``, a little more,
    so that they are there also when every weight is at its lower end; ``room_per_gal`` is what
    the room adds to a gallon of it, in dollars.
    """

    net_lb: Decimal
    made_gal: Decimal
    room_per_gal: Decimal

    def __post_init__(self) -> None:
        require_decimal("planned.net_lb", self.net_lb, above=_ZERO)
        require_decimal("planned.made_gal", self.made_gal, above=_ZERO)
        require_decimal("planned.room_per_gal", self.room_per_gal, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageOption:
    """A package: nominal fill (not to the brim), empty weight, price and deposit of each.

    ``price_each`` is the tote or drum sold, or the handling charge of one that comes back (0
    for none). Bulk has neither fill nor prices: a tanker's charges belong to freight.
    ``max_net_lb`` is the rated load of the package, checked against the weight of the fill.
    """

    kind: PackageKind
    name: str
    plural_name: str
    fill_gal: Decimal = _ZERO
    tare_lb: Decimal = _ZERO
    price_each: Decimal = _ZERO
    deposit_each: Decimal = _ZERO
    max_net_lb: Decimal | None = None

    def __post_init__(self) -> None:
        if self.kind not in tuple(PackageKind):
            known = ", ".join(PackageKind)
            raise PricingError("package.kind", f"{self.kind!r} is unknown; known: {known}.")
        require_decimal("package.fill_gal", self.fill_gal, at_least=_ZERO)
        require_decimal("package.tare_lb", self.tare_lb, at_least=_ZERO)
        require_decimal("package.price_each", self.price_each, at_least=_ZERO)
        require_decimal("package.deposit_each", self.deposit_each, at_least=_ZERO)
        if self.max_net_lb is not None:
            require_decimal("package.max_net_lb", self.max_net_lb, above=_ZERO)
        if self.is_bulk:
            if self.fill_gal or self.tare_lb or self.price_each:
                raise PricingError("package.kind", "bulk has no fill, tare or price of its own.")
        elif self.fill_gal == 0:
            raise PricingError("package.fill_gal", "must be above 0.")
        if self.deposit_each and self.kind != PackageKind.TOTE_DEPOSIT:
            raise PricingError("package.deposit_each", f"a {self.kind} carries no deposit.")
        if self.kind == PackageKind.TOTE_DEPOSIT and self.deposit_each == 0:
            raise PricingError("package.deposit_each", "a tote on deposit needs a deposit above 0.")

    @property
    def is_bulk(self) -> bool:
        """Loose liquid in a tanker, ordered by the gallon."""
        return self.kind == PackageKind.BULK


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """A rep's own margin or price instead of the policy's; exactly one is given.

    ``margin_pct`` may be negative. ``price_total`` is the line without deposit, before a discount.
    ``price_per_gal`` sets that total once, rounded to the cent; the unit price shown afterwards
    is derived from the total again.
    """

    margin_pct: Decimal | None = None
    price_total: Decimal | None = None
    price_per_gal: Decimal | None = None

    def __post_init__(self) -> None:
        given = [self.margin_pct, self.price_total, self.price_per_gal]
        if sum(value is not None for value in given) != 1:
            raise PricingError("override", "give exactly one of margin, total or price per gal.")
        if self.margin_pct is not None:
            field = "override.margin_pct"
            require_decimal(field, self.margin_pct, above=-_HUNDRED, below=_HUNDRED)
        if self.price_total is not None:
            require_decimal("override.price_total", self.price_total, at_least=_ZERO)
        if self.price_per_gal is not None:
            require_decimal("override.price_per_gal", self.price_per_gal, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeShare:
    """What a line has of a deal over its whole quote, in dollars.

    ``price`` is the line without deposit, after a discount of its own; ``agreed`` that of all
    lines. A discount stands on the paper; a price that was asked for leaves the margin.
    """

    price: Decimal
    agreed: Decimal
    is_discount: bool

    def __post_init__(self) -> None:
        require_decimal("share.price", self.price, at_least=_ZERO)
        require_decimal("share.agreed", self.agreed, at_least=_ZERO)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteLine:
    """One product of a quote: ``packages`` whole packages, or ``bulk_gal`` gallons in bulk.

    The volume follows from the order (packages x nominal fill), so a part-filled package cannot
    be ordered by accident. The weight is the sum of the recipe, or what ``planned`` says.
    ``batches`` is the number of tank loads, ``n_pct`` total nitrogen by weight,
    ``n_rate_lb_per_1000sqft`` the application rate for which a price per 1,000 sq ft is wanted.
    """

    recipe: tuple[RecipeLine, ...]
    package: PackageOption
    packages: int | None = None
    bulk_gal: Decimal | None = None
    batches: int
    n_pct: Decimal
    n_rate_lb_per_1000sqft: Decimal | None = None
    override: Override | None = None
    discount: Discount | None = None
    share: WholeShare | None = None
    planned: PlannedMaterial | None = None

    def __post_init__(self) -> None:
        if not self.recipe:
            raise PricingError("recipe", "has no stocks; there is nothing to price.")
        codes = [line.code for line in self.recipe]
        if len(set(codes)) != len(codes):
            raise PricingError("recipe", "names the same stock twice.")
        require_count("batches", self.batches, at_least=1)
        require_decimal("n_pct", self.n_pct, at_least=_ZERO)
        if self.n_pct > _HUNDRED:
            raise PricingError("n_pct", f"must be at most 100, not {self.n_pct}.")
        if self.n_rate_lb_per_1000sqft is not None:
            field = "n_rate_lb_per_1000sqft"
            require_decimal(field, self.n_rate_lb_per_1000sqft, above=_ZERO)
        self._check_quantity()

    def _check_quantity(self) -> None:
        if self.package.is_bulk:
            if self.packages is not None:
                raise PricingError("packages", "bulk is ordered by the gallon.")
            require_decimal("bulk_gal", self.bulk_gal, above=_ZERO)
            return
        if self.bulk_gal is not None:
            raise PricingError("bulk_gal", f"{self.package.plural_name} are ordered by number.")
        require_count("packages", self.packages, at_least=1)
        limit = self.package.max_net_lb
        if limit is not None and self.mass_lb > limit * self.package_count:
            net = self.mass_lb / self.package_count
            message = (
                f"each {self.package.name} would hold {number(net, 0)} lb,"
                f" rated {number(limit, 0)} lb."
            )
            raise PricingError("package.max_net_lb", message)

    @property
    def package_count(self) -> int:
        """Whole packages; 0 in bulk."""
        return self.packages or 0

    @property
    def volume_gal(self) -> Decimal:
        """Packages x nominal fill, or the bulk gallons."""
        if self.bulk_gal is not None:
            return self.bulk_gal
        return self.package_count * self.package.fill_gal

    @property
    def weighed_lb(self) -> Decimal:
        """The sum of the recipe."""
        return sum((line.lb for line in self.recipe), _ZERO)

    @property
    def mass_lb(self) -> Decimal:
        """Net weight of the product."""
        return self.weighed_lb if self.planned is None else self.planned.net_lb

    @property
    def gross_lb(self) -> Decimal:
        """Net weight and the empty weight of every package."""
        return self.mass_lb + self.package_count * self.package.tare_lb
