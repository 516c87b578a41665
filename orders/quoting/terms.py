"""The office's tables of a day as terms of the pure pricing.

What the office has not set yet is a ``BadInput`` whose sentence says where to set it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import cached_property

from django.conf import settings
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from blendshop.plant_steps import NotSetUp, PlantStep
from orders import pricing
from orders.models import (
    CustomerTerms,
    FreightZone,
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
    asked = None if company is None else company.pk
    return TermsOfDay(today, [asked] if asked else []).of(asked, ship_to)


class TermsOfDay:
    """The office's tables of a day, each read once however many quotes are priced by them."""

    def __init__(self, today: date, companies: Collection[int]) -> None:
        """``companies`` are the keys of those that will be asked for."""
        self._today, self._companies = today, companies
        self._fees: dict[str | None, pricing.TonnageFee | None] = {}
        self._terms: dict[tuple[int, int | None, str | None], QuoteTerms] = {}

    def of(self, company_id: int | None, ship_to: ShipTo | None) -> QuoteTerms:
        """The terms of a company at a place; BadInput for what the office has not set."""
        if self._policy is None:
            raise NotSetUp(
                _("No price policy is in force: the office sets it under First steps, Prices."),
                PlantStep.PRICES,
            )
        tier = self._tier(company_id)
        zone = None if ship_to is None else ship_to.zone_id
        key = (tier.pk, zone, None if ship_to is None else ship_to.state)
        if key not in self._terms:
            self._terms[key] = self._priced_by(self._policy, tier, ship_to)
        return self._terms[key]

    def _priced_by(
        self, policy: PricePolicy, tier: PriceTier, ship_to: ShipTo | None
    ) -> QuoteTerms:
        return quote_terms(
            policy=policy,
            tier=tier,
            breaks=self._breaks,
            tonnage=self._fee(ship_to),
            zone=None if ship_to is None else ship_to.zone,
            trucks={} if ship_to is None else self._trucks,
        )

    @cached_property
    def _policy(self) -> PricePolicy | None:
        found: PricePolicy | None = PricePolicy.objects.filter(
            effective_from__lte=self._today
        ).first()
        return found

    @cached_property
    def _agreed(self) -> Mapping[int, PriceTier]:
        agreed = CustomerTerms.objects.filter(company__in=self._companies).select_related("tier")
        return {row.company_id: row.tier for row in agreed}

    @cached_property
    def _default_tier(self) -> PriceTier | None:
        return PriceTier.objects.filter(is_default=True).first()

    @cached_property
    def _breaks(self) -> Sequence[QuantityBreak]:
        return list(QuantityBreak.objects.all())

    @cached_property
    def _trucks(self) -> Mapping[str, Truck]:
        return trucks_in_use()

    def _tier(self, company_id: int | None) -> PriceTier:
        tier = None if company_id is None else self._agreed.get(company_id)
        tier = tier or self._default_tier
        if tier is None:
            raise NotSetUp(
                _("No price tier is the default: the office sets one under First steps, Prices."),
                PlantStep.PRICES,
            )
        return tier

    def _fee(self, ship_to: ShipTo | None) -> pricing.TonnageFee | None:
        state = None if ship_to is None else ship_to.state
        if state not in self._fees:
            self._fees[state] = tonnage_fee(ship_to)
        return self._fees[state]


def trucks_in_use() -> Mapping[str, Truck]:
    """The trucks loads are counted with, by kind."""
    return {truck.kind: truck for truck in Truck.objects.filter(in_use=True)}


def quote_terms(
    *,
    policy: PricePolicy,
    tier: PriceTier,
    breaks: Iterable[QuantityBreak],
    tonnage: pricing.TonnageFee | None,
    zone: FreightZone | None,
    trucks: Mapping[str, Truck],
) -> QuoteTerms:
    """Rows of the office's tables, saved or not, as terms; BadInput where they fit no price.

    Without a zone, or with one whose customers collect, it is picked up at the plant.
    """
    try:
        return QuoteTerms(
            rates=pricing.ShopRates(
                shrink_pct=policy.shrink_pct,
                blending_per_batch=policy.batch_fee,
                blending_per_gal=policy.blend_fee_per_gal,
                lab_per_batch=policy.lab_fee_per_batch,
                tonnage=tonnage,
            ),
            margin=pricing.MarginPolicy(
                tier=tier.name,
                target_pct=tier.margin_pct,
                floor_pct=tier.floor_pct,
                breaks=tuple(
                    pricing.QuantityBreak(
                        above_gal=Decimal(row.above_gal), points_off=row.margin_points_off
                    )
                    for row in sorted(breaks, key=lambda row: row.above_gal)
                ),
            ),
            delivery=_delivery(zone, trucks),
            currency=settings.CURRENCY,
        )
    except pricing.PricingError as error:
        raise unpriceable(error) from error


def _delivery(zone: FreightZone | None, trucks: Mapping[str, Truck]) -> pricing.Delivery | None:
    if zone is None or zone.pick_up:
        return None
    if Truck.Kind.DECK not in trucks:
        raise NotSetUp(
            _("No deck truck is in use: the office sets one under First steps, Delivery."),
            PlantStep.DELIVERY,
        )
    tanker = trucks.get(Truck.Kind.TANKER)
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


def unpriceable(error: pricing.PricingError) -> BadInput:
    """A refusal of the pure pricing as a sentence at its field."""
    return BadInput(
        _("This cannot be priced ({field}): {message}").format(
            field=error.field, message=error.message
        ),
        fields={error.field: error.message},
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
