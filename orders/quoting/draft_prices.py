"""What a draft asks for, priced with today's costs, and the figures a line keeps of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import prefetch_related_objects

from blendshop.accounts.models import Company
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.models import BlendRevision
from orders.frozen.line_price import LinePrice, PricedBlend, RecipeShare
from orders.models import Package, QuoteLine, ShipTo, Tank
from orders.planning.default_load import tanks_in_use
from orders.pricing import PriceBreak, PriceBreakdown, QuotePrice
from orders.quoting.deals import Deal, QuoteDeal, deal_of
from orders.quoting.price import price_ways
from orders.quoting.requests import (
    PREFETCHED,
    Blendable,
    PricedRequest,
    WishedBlend,
    request_for,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftLine:
    """One line as the rep asks for it; ``quantity`` is packages, in bulk whole gallons.

    Of all lines that are an ``alternative`` the customer takes one.
    """

    revision: BlendRevision
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    margin_pct: Decimal | None = None
    alternative: bool = False
    deal: Deal | None = None


@dataclass(frozen=True, slots=True)
class PricedWay:
    """What the customer may take: some of the lines, by their places, priced together.

    ``choice`` is counted from 1, None where there is nothing to choose.
    """

    choice: int | None
    places: tuple[int, ...]
    price: QuotePrice


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedDraft:
    """The requests, each way to take them, and for each line its quantity table."""

    requests: tuple[PricedRequest, ...]
    ways: tuple[PricedWay, ...]
    breaks: tuple[tuple[PriceBreak, ...], ...]

    @property
    def price(self) -> QuotePrice:
        """Of the cheapest way."""
        return min((way.price for way in self.ways), key=lambda price: price.total)


def ways_to_take(lines: Sequence[DraftLine]) -> Mapping[int | None, tuple[int, ...]]:
    """The places of the lines each choice takes: one alternative and all that are none."""
    alternatives = [place for place, line in enumerate(lines) if line.alternative]
    if not alternatives:
        return {None: tuple(range(len(lines)))}
    return {
        choice: tuple(
            place for place, line in enumerate(lines) if place == taken or not line.alternative
        )
        for choice, taken in enumerate(alternatives, start=1)
    }


def draft_lines_of(lines: Sequence[QuoteLine]) -> tuple[DraftLine, ...]:
    """What the saved lines of a draft ask for; what is in every choice is asked for once."""
    asked = [line for line in lines if not (line.in_every_choice and line.choice != 1)]
    return tuple(
        DraftLine(
            revision=line.revision,
            package=line.package,
            quantity=line.quantity,
            n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
            margin_pct=line.margin_pct,
            alternative=line.choice is not None and not line.in_every_choice,
            deal=deal_of(line.deal, line.deal_figure),
        )
        for line in asked
    )


def price_draft(
    lines: Sequence[DraftLine],
    *,
    company: Company,
    ship_to: ShipTo,
    today: date,
    agreed_freight: Decimal | None = None,
    deal: QuoteDeal | None = None,
    with_breaks: bool = False,
    catalogue: Catalogue | None = None,
    instead: Mapping[int, WishedBlend] | None = None,
) -> PricedDraft:
    """Price the lines that are taken together; BadInput in a sentence when one has no price.

    ``agreed_freight`` is that of each way by itself, as each would be the whole shipment.
    ``deal`` is over all lines of a way, at the same ratio in each.
    ``catalogue`` is one of other costs than today's, such as those of a cost letter, ``instead``
    blends that are not saved, in place of those of the lines at these places.
    """
    catalogue = catalogue or load_catalogue(today, include_short=True)
    tanks = tanks_in_use()
    prefetch_related_objects([line.revision for line in lines], *PREFETCHED)
    blends = instead or {}
    requests = tuple(
        _request(line, blends.get(place, line.revision), catalogue, tanks)
        for place, line in enumerate(lines)
    )
    taken = ways_to_take(lines)
    prices, breaks = price_ways(
        requests,
        tuple(taken.values()),
        company=company,
        ship_to=ship_to,
        today=today,
        agreed_freight=agreed_freight,
        deal=deal,
        with_breaks=with_breaks,
    )
    ways = tuple(
        PricedWay(choice, places, price)
        for (choice, places), price in zip(taken.items(), prices, strict=True)
    )
    return PricedDraft(requests=requests, ways=ways, breaks=breaks)


def approval_reasons(draft: PricedDraft) -> tuple[str, ...]:
    """Why the office must approve; of a choice, with its number."""
    return tuple(
        reason if way.choice is None else f"Choice {way.choice}: {reason}"
        for way in draft.ways
        for reason in way.price.approval_reasons
    )


def _request(
    line: DraftLine, blend: Blendable, catalogue: Catalogue, tanks: tuple[Tank, ...]
) -> PricedRequest:
    return request_for(
        blend,
        catalogue=catalogue,
        tanks=tanks,
        package=line.package,
        quantity=line.quantity,
        n_rate=line.n_rate_lb_per_1000sqft,
        margin_pct=line.margin_pct,
        deal=line.deal,
    )


def line_figures(
    revision: BlendRevision, request: PricedRequest, price: PriceBreakdown
) -> dict[str, Any]:
    """The columns of a quote line: printed figures, and as JSON everything they came from."""
    blend = PricedBlend(
        name=revision.blend.name,
        revision_number=revision.number,
        grade=revision.grade,
        recipe=tuple(RecipeShare(share.code, share.name, share.pct) for share in request.recipe),
        analysis=revision.analysis,
        slow_release_pct=revision.slow_release_pct,
        density_lb_per_gal=request.density_lb_per_gal,
    )
    return {
        "volume_gal": price.volume_gal,
        "mass_lb": price.mass_lb,
        "price": LinePrice.extending(price, blend=blend, load=request.load).to_json(),
        "price_per_gal": price.price_per_gal,
        "price_per_package": price.price_per_package,
        "line_total": price.price_total,
        "deposit": price.deposit_total,
    }
