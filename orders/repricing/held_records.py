"""Many quotes or orders held at their prices at other costs, their terms and lines read at once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import groupby

from blendshop.errors import BadInput
from formulas.engine_bridge import Catalogue
from orders.models import Order, OrderLine, Quote, QuoteLine
from orders.models.order import OrderQuerySet
from orders.models.quote import QuoteQuerySet
from orders.quoting.terms import TermsOfDay
from orders.repricing.held_price import HeldQuote, held_quote, least_earning


def held_quotes(
    quotes: QuoteQuerySet, catalogue: Catalogue, today: date
) -> Iterator[tuple[int, HeldQuote | BadInput]]:
    """Each quote by its key, or why it cannot be priced; where there is a choice its least."""
    found: dict[int, Quote] = {row.pk: row for row in quotes.select_related("ship_to__zone")}
    terms = TermsOfDay(today, {quote.company_id for quote in found.values()})
    lines = QuoteLine.objects.filter(quote__in=found).select_related("package")
    for pk, of_quote in groupby(
        lines.order_by("quote_id", "position"), key=lambda line: line.quote_id
    ):
        quote = found[pk]
        try:
            asked = terms.of(quote.company_id, quote.ship_to)
            yield pk, least_earning(list(of_quote), asked, catalogue)
        except BadInput as error:
            yield pk, error


def held_orders(
    orders: OrderQuerySet, catalogue: Catalogue, today: date
) -> Iterator[tuple[int, HeldQuote | BadInput]]:
    """The same of orders, with all their lines."""
    found: dict[int, Order] = {row.pk: row for row in orders.select_related("ship_to__zone")}
    terms = TermsOfDay(today, {order.company_id for order in found.values()})
    lines = OrderLine.objects.filter(order__in=found).select_related("package")
    for pk, of_order in groupby(
        lines.order_by("order_id", "position"), key=lambda line: line.order_id
    ):
        order = found[pk]
        try:
            asked = terms.of(order.company_id, order.ship_to)
            yield pk, held_quote(list(of_order), asked, catalogue)
        except BadInput as error:
            yield pk, error
