"""From tables to a price: the one door between the ORM and ``orders.pricing``.

A request (``price_requests``) says what is wanted, the office's tables (``price_terms``) on what
terms; the pure pricing gets frozen values of both.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from orders import pricing
from orders.models import (
    ShipTo,
)
from orders.pricing import PriceBreak, PriceBreakdown, QuotePrice, QuoteTerms
from orders.quoting.deals import QuoteDeal
from orders.quoting.requests import PricedRequest, quote_line, unplanned_line, weighed_line
from orders.quoting.terms import terms_for, unpriceable


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
    return _price(lines, terms)


def price_breaks(
    line: PricedRequest, *, company: Company | None, ship_to: ShipTo | None, today: date
) -> tuple[PriceBreak, ...]:
    """The line at the asked quantity, at every quantity break and at twice the last one."""
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    return _breaks(line, terms)


def price_each(
    lines: Sequence[PricedRequest],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
    ratio: Decimal | None = None,
) -> Iterator[PriceBreakdown | BadInput]:
    """Each line as an order of its own, the tables read once for all.

    With ``ratio`` none is planned: each is ``unplanned_line``. A line that cannot be priced yields
    why, so that one does not take the others along. BadInput is raised when the office has not
    set what every price needs.
    """
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    for line in lines:
        yield _price_alone(line, terms, ratio)


def price_with_breaks(
    lines: Sequence[PricedRequest],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
) -> tuple[QuotePrice, tuple[tuple[PriceBreak, ...], ...]]:
    """``price_lines`` and for each line ``price_breaks``, the tables read once for all."""
    (price,), breaks = price_ways(
        lines,
        [range(len(lines))],
        company=company,
        ship_to=ship_to,
        today=today,
        with_breaks=True,
    )
    return price, breaks


def price_ways(
    lines: Sequence[PricedRequest],
    ways: Sequence[Sequence[int]],
    *,
    company: Company | None,
    ship_to: ShipTo | None,
    today: date,
    agreed_freight: Decimal | None = None,
    deal: QuoteDeal | None = None,
    with_breaks: bool = False,
) -> tuple[tuple[QuotePrice, ...], tuple[tuple[PriceBreak, ...], ...]]:
    """The price of each way, the lines at its places together, and for each line ``price_breaks``.

    Tables and loads are read once for all; without ``with_breaks`` there are no breaks.
    ``agreed_freight`` takes the place of the zone's tariff; BadInput where it is picked up.
    ``deal`` is negotiated over the whole quote, in every way at the same ratio.
    """
    terms = terms_for(company=company, ship_to=ship_to, today=today)
    if agreed_freight is not None and terms.delivery is None:
        told = _("It is picked up at the plant: there is no freight to agree on.")
        raise BadInput(told, fields={"agreed_freight": told})
    try:
        terms = replace(terms, agreed_freight=agreed_freight)
        asked = [quote_line(line) for line in lines]
        prices = pricing.price_choices(
            [[asked[place] for place in places] for places in ways],
            terms,
            None if deal is None else deal.whole,
        )
    except pricing.PricingError as error:
        raise unpriceable(error) from error
    return prices, tuple(_breaks(line, terms) for line in lines) if with_breaks else ()


def _price(lines: Sequence[PricedRequest], terms: QuoteTerms) -> QuotePrice:
    try:
        return pricing.price_quote([quote_line(line) for line in lines], terms)
    except pricing.PricingError as error:
        raise unpriceable(error) from error


def _price_alone(
    line: PricedRequest, terms: QuoteTerms, ratio: Decimal | None
) -> PriceBreakdown | BadInput:
    """One line as an order of its own, or why it cannot be priced."""
    try:
        asked = quote_line(line) if ratio is None else unplanned_line(line, ratio)
        return pricing.price_line(asked, terms)
    except pricing.PricingError as error:
        return unpriceable(error)
    except BadInput as bad:
        return bad


def _breaks(line: PricedRequest, terms: QuoteTerms) -> tuple[PriceBreak, ...]:
    """Each quantity with the material of its own default load."""
    try:
        return pricing.price_breaks(
            quote_line(line),
            terms,
            tank_capacity_gal=line.loads.largest_gal,
            weighed=lambda other: weighed_line(other, line.loads),
        )
    except pricing.PricingError as error:
        raise unpriceable(error) from error
