"""The office's tables of a day as terms of the pure pricing.

What the office has not set yet is a ``BadInput`` whose sentence says where to set it.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from blendshop.plant_steps import NotSetUp, PlantStep
from orders import pricing
from orders.models import (
    CustomerTerms,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    ShipTo,
    Truck,
)
from orders.pricing import QuoteTerms
from orders.quoting.state_fees import tonnage_fee


def terms_for(*, company: Company | None, ship_to: ShipTo | None, today: date) -> QuoteTerms:
    """Policy, tier, breaks, fee and delivery of a day, for a company and a place."""
    policy = PricePolicy.objects.filter(effective_from__lte=today).first()
    if policy is None:
        raise NotSetUp(
            _("No price policy is in force: the office sets it under First steps, Prices."),
            PlantStep.PRICES,
        )
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
        raise unpriceable(error) from error


def unpriceable(error: pricing.PricingError) -> BadInput:
    """A refusal of the pure pricing as a sentence at its field."""
    return BadInput(
        _("This cannot be priced ({field}): {message}").format(
            field=error.field, message=error.message
        ),
        fields={error.field: error.message},
    )


def _margin_policy(company: Company | None) -> pricing.MarginPolicy:
    tiers = PriceTier.objects.all()
    agreed = CustomerTerms.objects.filter(company=company).select_related("tier").first()
    tier = agreed.tier if agreed else tiers.filter(is_default=True).first()
    if tier is None:
        raise NotSetUp(
            _("No price tier is the default: the office sets one under First steps, Prices."),
            PlantStep.PRICES,
        )
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
        raise NotSetUp(
            _("No deck truck is in use: the office sets one under First steps, Delivery."),
            PlantStep.DELIVERY,
        )
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
