"""What a draft asks for, priced with today's costs, and the figures a line keeps of it."""

from __future__ import annotations

from collections.abc import Sequence
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
from orders.quoting.price import price_lines, price_with_breaks
from orders.quoting.requests import PREFETCHED, PricedRequest, request_for


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftLine:
    """One line as the rep asks for it; ``quantity`` is packages, in bulk whole gallons."""

    revision: BlendRevision
    package: Package
    quantity: int
    n_rate_lb_per_1000sqft: float | None = None
    margin_pct: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedDraft:
    """The requests, their common price, and for each line its quantity table."""

    requests: tuple[PricedRequest, ...]
    price: QuotePrice
    breaks: tuple[tuple[PriceBreak, ...], ...]


def draft_lines_of(lines: Sequence[QuoteLine]) -> tuple[DraftLine, ...]:
    """What the saved lines of a draft ask for."""
    return tuple(
        DraftLine(
            revision=line.revision,
            package=line.package,
            quantity=line.quantity,
            n_rate_lb_per_1000sqft=line.n_rate_lb_per_1000sqft,
            margin_pct=line.margin_pct,
        )
        for line in lines
    )


def price_draft(
    lines: Sequence[DraftLine],
    *,
    company: Company,
    ship_to: ShipTo,
    today: date,
    with_breaks: bool = False,
) -> PricedDraft:
    """Price the lines together; BadInput in a sentence when one cannot be priced."""
    catalogue, tanks = load_catalogue(today, include_short=True), tanks_in_use()
    prefetch_related_objects([line.revision for line in lines], *PREFETCHED)
    requests = tuple(_request(line, catalogue, tanks) for line in lines)
    terms: Any = {"company": company, "ship_to": ship_to, "today": today}
    if with_breaks:
        price, breaks = price_with_breaks(requests, **terms)
    else:
        price, breaks = price_lines(requests, **terms), ()
    return PricedDraft(requests=requests, price=price, breaks=breaks)


def _request(line: DraftLine, catalogue: Catalogue, tanks: tuple[Tank, ...]) -> PricedRequest:
    return request_for(
        line.revision,
        catalogue=catalogue,
        tanks=tanks,
        package=line.package,
        quantity=line.quantity,
        n_rate=line.n_rate_lb_per_1000sqft,
        margin_pct=line.margin_pct,
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
