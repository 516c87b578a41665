"""From tables to a price: the one door between the ORM and ``orders.pricing``.

A request says what is wanted; this module finds the policy in force, the customer's tier, the
quantity breaks, the state's fee, zone and trucks, and hands frozen values to the pure pricing.
What the office has not set yet is a ``BadInput`` whose sentence says where to set it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.conf import settings
from django.db.models import prefetch_related_objects

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from formulas.engine.composition import with_total_n
from formulas.engine.result import Blend, Solved
from formulas.engine_bridge import Catalogue, exact, load_catalogue
from formulas.formulation import Formulation
from formulas.models import BlendRevision
from orders import pricing
from orders.models import (
    CustomerTerms,
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    ShipTo,
    Tank,
    Truck,
)
from orders.pricing import PriceBreak, PriceBreakdown, QuotePrice, QuoteTerms, StepCode
from orders.state_fees import tonnage_fee

#: Decimal places of a pound: below any scale, so that rounding here never shows in a price.
_LB_PLACES: Final = 6


#: What can be priced: an answered wish, a blend of the engine, a saved revision.
Blendable = Formulation | Blend | BlendRevision


@dataclasses.dataclass(frozen=True, slots=True)
class StockShare:
    """One stock of a recipe: percent by weight and today's cost in dollars per lb."""

    code: str
    name: str
    pct: float
    cost_per_lb: Decimal


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class PricedRequest:
    """One line to be priced: a recipe in ``quantity`` packages, or gallons when in bulk.

    ``n_pct`` is total nitrogen by weight, ``margin_pct`` the rep's own margin in percent of the
    price instead of the tier's.
    """

    recipe: tuple[StockShare, ...]
    density_lb_per_gal: float
    n_pct: float
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    margin_pct: Decimal | None = None


def price_lines(
    lines: Sequence[PricedRequest],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
) -> QuotePrice:
    """Price all lines of a quote together; without a ship-to the customer collects.

    Raises BadInput in a sentence when a line cannot be priced or the office has not set what
    the price needs.
    """
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    return _price(lines, terms, _tank_capacity())


def price_breaks(
    line: PricedRequest, *, company: Company | None, ship_to: ShipTo | None, today: date
) -> tuple[PriceBreak, ...]:
    """The line at the asked quantity, at every quantity break and at twice the last one."""
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    return _breaks(line, terms, _tank_capacity())


def price_each(
    lines: Sequence[PricedRequest],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
) -> Iterator[PriceBreakdown | BadInput]:
    """Each line as an order of its own, the tables read once for all.

    A line that cannot be priced yields why, so that one does not take the others along. BadInput
    is raised when the office has not set what every price needs.
    """
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    capacity = _tank_capacity()
    for line in lines:
        try:
            yield _price([line], terms, capacity).lines[0]
        except BadInput as bad:
            yield bad


def price_with_breaks(
    lines: Sequence[PricedRequest],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
) -> tuple[QuotePrice, tuple[tuple[PriceBreak, ...], ...]]:
    """``price_lines`` and for each line ``price_breaks``, the tables read once for all."""
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    capacity = _tank_capacity()
    price = _price(lines, terms, capacity)
    return price, tuple(_breaks(line, terms, capacity) for line in lines)


def price_preview(
    source: Blendable,
    *,
    package: Package,
    quantity: int,
    company: Company | None,
    ship_to: ShipTo | None,
    n_rate: float | None,
    today: date,
    catalogue: Catalogue | None = None,
) -> PriceBreakdown:
    """The price of one blend alone, for the page that shows it before anything is saved."""
    if catalogue is None and isinstance(source, Formulation):
        catalogue = source.catalogue
    line = request_for(
        source,
        catalogue=catalogue or load_catalogue(today, include_short=True),
        package=package,
        quantity=quantity,
        n_rate=n_rate,
    )
    return price_lines([line], company=company, ship_to=ship_to, today=today).lines[0]


def request_for(
    source: Blendable,
    *,
    catalogue: Catalogue,
    package: Package,
    quantity: int,
    n_rate: float | None = None,
    margin_pct: Decimal | None = None,
) -> PricedRequest:
    """A blend in a package, its recipe at the catalogue's costs.

    Raises BadInput, naming the stock, when the recipe holds one the catalogue cannot price.
    """
    shares, density, n_pct = _blend_of(source)
    return PricedRequest(
        recipe=tuple(_share(code, pct, catalogue) for code, pct in shares),
        density_lb_per_gal=density,
        n_pct=n_pct,
        package=package,
        quantity=quantity,
        n_rate_lb_per_1000sqft=n_rate,
        margin_pct=margin_pct,
    )


def terms_for(*, company: Company | None, ship_to: ShipTo | None, today: date) -> QuoteTerms:
    """Policy, tier, breaks, fee and delivery of a day, for a company and a place."""
    policy = PricePolicy.objects.filter(effective_from__lte=today).first()
    if policy is None:
        raise BadInput("No price policy is in force: the office sets it under Back office.")
    try:
        return QuoteTerms(
            rates=pricing.ShopRates(
                shrink_pct=policy.shrink_pct,
                blending_per_batch=policy.batch_fee,
                blending_per_gal=policy.blend_fee_per_gal,
                lab_per_batch=policy.lab_fee_per_batch,
                tonnage=tonnage_fee(ship_to),
            ),
            margin=_margin_policy(company),
            delivery=_delivery(ship_to),
            currency=settings.CURRENCY,
        )
    except pricing.PricingError as error:
        raise _unpriceable(error) from error


def to_json(breakdown: PriceBreakdown) -> dict[str, Any]:
    """The whole breakdown as plain JSON values; every Decimal a string with all its digits."""
    plain: dict[str, Any] = _plain(dataclasses.asdict(breakdown))
    return plain


def from_json(data: Mapping[str, Any]) -> PriceBreakdown:
    """The breakdown ``to_json`` wrote, digit for digit."""
    steps = tuple(
        pricing.PriceStep(
            StepCode(step["code"]),
            step["label"],
            step["basis"],
            Decimal(step["amount"]),
            Decimal(step["running_total"]),
        )
        for step in data["steps"]
    )
    material = tuple(
        pricing.MaterialLine(
            stock["code"],
            stock["name"],
            Decimal(stock["lb"]),
            Decimal(stock["cost_per_lb"]),
            Decimal(stock["amount"]),
        )
        for stock in data["material"]
    )
    rest = {name: None if data[name] is None else Decimal(data[name]) for name in _DECIMAL_FIELDS}
    return PriceBreakdown(
        steps=steps,
        material=material,
        packages=data["packages"],
        approval_reason=data["approval_reason"],
        shown_to_customer=frozenset(StepCode(code) for code in data["shown_to_customer"]),
        **rest,  # type: ignore[arg-type]
    )


_DECIMAL_FIELDS: Final = tuple(
    field.name
    for field in dataclasses.fields(PriceBreakdown)
    if field.name not in {"steps", "material", "packages", "approval_reason", "shown_to_customer"}
)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, frozenset):
        return sorted(_plain(item) for item in value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Decimal):
        return str(value)
    return value.value if isinstance(value, StepCode) else value


def _blend_of(
    source: Blendable,
) -> tuple[list[tuple[str, float]], float, float]:
    """Shares by stock code, density and total nitrogen of a solved blend or a saved revision."""
    if isinstance(source, BlendRevision):
        prefetch_related_objects([source], "lines__stock")  # nothing if the caller already did
        shares = [(line.stock.code, line.pct) for line in source.lines.all()]
        return shares, source.density_lb_per_gal, source.analysis.get("N", 0.0)
    if isinstance(source, Formulation):
        if not isinstance(source.result, Solved):
            raise BadInput("This wish is out of reach: there is no blend to price.")
        source = source.result.blend
    shares = [(share.code, share.pct) for share in source.shares if share.pct > 0]
    return shares, source.density_lb_per_gal, with_total_n(source.analysis).get("N", 0.0)


def _price(lines: Sequence[PricedRequest], terms: QuoteTerms, capacity_gal: Decimal) -> QuotePrice:
    try:
        return pricing.price_quote([_quote_line(line, capacity_gal) for line in lines], terms)
    except pricing.PricingError as error:
        raise _unpriceable(error) from error


def _breaks(
    line: PricedRequest, terms: QuoteTerms, capacity_gal: Decimal
) -> tuple[PriceBreak, ...]:
    asked = _quote_line(line, capacity_gal)
    try:
        return pricing.price_breaks(asked, terms, tank_capacity_gal=capacity_gal)
    except pricing.PricingError as error:
        raise _unpriceable(error) from error


def _share(code: str, pct: float, catalogue: Catalogue) -> StockShare:
    name = catalogue.names.get(code)
    if name is None:
        why = catalogue.left_out.get(code, f"The catalogue has no stock {code}.")
        raise BadInput(f"This blend cannot be priced today. {why}", fields={"recipe": why})
    return StockShare(code=code, name=name, pct=pct, cost_per_lb=catalogue.cost_per_lb[code])


def _quote_line(line: PricedRequest, tank_capacity_gal: Decimal) -> pricing.QuoteLine:
    package = line.package
    bulk = package.is_bulk
    volume_gal = Decimal(line.quantity) * (Decimal(1) if bulk else package.fill_gal)
    mass_lb = volume_gal * exact(line.density_lb_per_gal)
    override = None
    if line.margin_pct is not None:
        override = pricing.Override(margin_pct=line.margin_pct)
    n_rate = line.n_rate_lb_per_1000sqft
    return pricing.QuoteLine(
        recipe=tuple(
            pricing.RecipeLine(
                code=share.code,
                name=share.name,
                lb=round(mass_lb * exact(share.pct) / 100, _LB_PLACES),
                cost_per_lb=share.cost_per_lb,
            )
            for share in line.recipe
        ),
        package=_package_option(package),
        packages=None if bulk else line.quantity,
        bulk_gal=volume_gal if bulk else None,
        batches=pricing.batch_count(volume_gal, tank_capacity_gal),
        n_pct=exact(line.n_pct),
        n_rate_lb_per_1000sqft=None if n_rate is None else exact(n_rate),
        override=override,
    )


def _package_option(package: Package) -> pricing.PackageOption:
    limit = package.max_gross_lb
    return pricing.PackageOption(
        kind=pricing.PackageKind(package.kind),
        name=package.name,
        plural_name=package.plural_name,
        fill_gal=package.fill_gal,
        tare_lb=package.tare_lb,
        price_each=package.price,
        deposit_each=package.deposit,
        max_net_lb=None if limit is None else limit - package.tare_lb,
    )


def _margin_policy(company: Company | None) -> pricing.MarginPolicy:
    tiers = PriceTier.objects.all()
    agreed = CustomerTerms.objects.filter(company=company).select_related("tier").first()
    tier = agreed.tier if agreed else tiers.filter(is_default=True).first()
    if tier is None:
        raise BadInput("No price tier is the default: the office sets one under Back office.")
    return pricing.MarginPolicy(
        tier=tier.name,
        target_pct=tier.margin_pct,
        floor_pct=tier.floor_pct,
        breaks=tuple(
            pricing.QuantityBreak(
                above_gal=Decimal(row.above_gal), points_off=row.margin_points_off
            )
            for row in QuantityBreak.objects.all()
        ),
    )


def _delivery(ship_to: ShipTo | None) -> pricing.Delivery | None:
    if ship_to is None or ship_to.zone.pick_up:
        return None
    trucks = {truck.kind: truck for truck in Truck.objects.filter(in_use=True)}
    if Truck.Kind.DECK not in trucks:
        raise BadInput("No deck truck is in use: the office sets one under Back office.")
    zone, tanker = ship_to.zone, trucks.get(Truck.Kind.TANKER)
    return pricing.Delivery(
        zone=pricing.FreightZone(
            code=zone.name,
            per_load=zone.per_load,
            per_package=zone.per_package,
            per_bulk_gal=zone.per_gal,
            minimum=zone.minimum,
        ),
        deck_truck=_truck(trucks[Truck.Kind.DECK]),
        tanker=_truck(tanker) if tanker else None,
    )


def _truck(row: Truck) -> pricing.Truck:
    return pricing.Truck(
        name=row.name,
        empty_lb=row.empty_lb,
        gross_limit_lb=row.gross_limit_lb,
        payload_limit_lb=row.payload_limit_lb,
        package_places=row.package_places,
        capacity_gal=row.capacity_gal,
    )


def _tank_capacity() -> Decimal:
    """Gallons of the largest tank in use; it decides how many batches an order takes."""
    tank = Tank.objects.filter(active=True).order_by("-capacity_gal").first()
    if tank is None:
        raise BadInput("No blending tank is in use: the office sets one under Back office.")
    return Decimal(tank.capacity_gal)


def _unpriceable(error: pricing.PricingError) -> BadInput:
    return BadInput(
        f"This cannot be priced ({error.field}): {error.message}",
        fields={error.field: error.message},
    )
