"""What chosen blends cost by the tables as they stand, and as they were typed; nothing is saved.

Both sides go the road of a quote: the load that is planned for the quantity, the same pricing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.engine_bridge import load_catalogue
from formulas.models import BlendRevision
from orders import pricing
from orders.models import FreightZone, Package, PriceTier, QuantityBreak, StateFee
from orders.planning.default_load import tanks_in_use
from orders.price_desk.desk import PriceDesk
from orders.pricing import PriceBreakdown, QuoteLine, QuoteTerms
from orders.quoting.priced_loads import NotPlannedYet
from orders.quoting.requests import PREFETCHED, PricedRequest, quote_line, request_for
from orders.quoting.state_fees import charged_fee
from orders.quoting.terms import quote_terms, trucks_in_use, unpriceable

#: Totes a customer tries, a usual order, and nearly a truck of them (common practice, no source).
QUANTITIES: Final = (1, 4, 20)


@dataclass(frozen=True, slots=True)
class PriceThenNow:
    """One quantity: the price by the tables as they stand and as typed; None where it has none.

    ``is_late`` where its load was not planned in time, and may be when it is asked for again.
    """

    quantity: int
    old: PriceBreakdown | None
    new: PriceBreakdown | None
    why_not: str = ""
    is_late: bool = False

    @property
    def change_pct(self) -> Decimal | None:
        """By how many percent the price of a gallon moves."""
        if self.old is None or self.new is None or not self.old.price_total:
            return None
        return (self.new.price_total - self.old.price_total) / self.old.price_total * 100


@dataclass(frozen=True, slots=True)
class PreviewedBlend:
    revision: BlendRevision
    prices: tuple[PriceThenNow, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """The chosen blends, or the sentence of what is in the way of all of them."""

    blends: tuple[PreviewedBlend, ...] = ()
    waits_for: tuple[str, ...] = ()

    @property
    def is_late(self) -> bool:
        """Whether some loads are still to be planned; those that were are kept."""
        return any(price.is_late for blend in self.blends for price in blend.prices)


def preview_of(desk: PriceDesk, today: date) -> Preview:
    """Old and new side by side, at today's costs."""
    is_valid = desk.is_valid()
    if not is_valid or not desk.preview.is_valid():
        wrong = desk.problems()
        wrong += [str(each) for errors in desk.preview.errors.values() for each in errors]
        return Preview(waits_for=tuple(dict.fromkeys(wrong)))
    try:
        old, new = _terms(desk)
        return Preview(
            _priced(desk.preview.blends, desk.preview.cleaned_data["package"], old, new, today)
        )
    except BadInput as error:
        return Preview(waits_for=(error.message,))


def _terms(desk: PriceDesk) -> tuple[QuoteTerms | None, QuoteTerms]:
    """The terms of the chosen tier, zone and state: of the tables, and as typed."""
    chosen = desk.preview.cleaned_data
    trucks = trucks_in_use()
    tier: PriceTier = desk.tiers.forms[int(chosen["tier"])].instance
    zone: FreightZone | None = _at(desk.zones, chosen["zone"])
    fee: StateFee | None = _at(desk.fees, chosen["state"])
    new = quote_terms(
        policy=desk.policy.instance,
        tier=tier,
        breaks=desk.rows_of(desk.breaks),
        tonnage=charged_fee(fee),
        zone=zone,
        trucks=trucks,
    )
    tier_now = PriceTier.objects.filter(pk=tier.pk).first()
    zone_now = zone and FreightZone.objects.filter(pk=zone.pk).first()
    if desk.standing is None or tier_now is None or (zone and zone_now is None):
        return None, new  # what is new has no price of before
    old = quote_terms(
        policy=desk.standing,
        tier=tier_now,
        breaks=list(QuantityBreak.objects.all()),
        tonnage=charged_fee(fee and StateFee.objects.filter(pk=fee.pk).first()),
        zone=zone_now,
        trucks=trucks,
    )
    return old, new


def _at(table: Any, place: str) -> Any:
    return table.forms[int(place)].instance if place else None


def _priced(
    revisions: Sequence[BlendRevision],
    package: Package,
    old: QuoteTerms | None,
    new: QuoteTerms,
    today: date,
) -> tuple[PreviewedBlend, ...]:
    if not revisions:
        raise BadInput(_("Choose a saved blend."))
    catalogue, tanks = load_catalogue(today, include_short=True), tanks_in_use()
    prefetch_related_objects(revisions, *PREFETCHED)
    found = []
    for revision in revisions:
        # One request a blend: its loads are planned once for both sides, whatever is typed.
        try:
            asked = request_for(
                revision, catalogue=catalogue, tanks=tanks, package=package, quantity=1
            )
        except BadInput as error:
            prices = [PriceThenNow(each, None, None, error.message) for each in QUANTITIES]
        else:
            prices = [_then_now(replace(asked, quantity=each), old, new) for each in QUANTITIES]
        found.append(PreviewedBlend(revision, tuple(prices)))
    return tuple(found)


def _then_now(asked: PricedRequest, old: QuoteTerms | None, new: QuoteTerms) -> PriceThenNow:
    try:
        line = quote_line(asked)
        then = None if old is None else _price(line, old)
        return PriceThenNow(asked.quantity, then, _price(line, new))
    except BadInput as error:
        is_late = isinstance(error, NotPlannedYet)
        return PriceThenNow(asked.quantity, None, None, error.message, is_late)


def _price(line: QuoteLine, terms: QuoteTerms) -> PriceBreakdown:
    try:
        return pricing.price_line(line, terms)
    except pricing.PricingError as error:
        raise unpriceable(error) from error
