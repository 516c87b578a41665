"""Quotes and orders of many seasons, at the money of the demo's own lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.utils import timezone

from blendshop.accounts.models import User
from formulas.models import RevisionLine
from orders.demo.large.kinds import SavedRecipe, pounds
from orders.demo.large.size import PlantSize, spread
from orders.models import (
    Order,
    OrderEvent,
    OrderLine,
    Quote,
    QuoteEvent,
    QuoteLine,
    ShipTo,
    StockReservation,
)
from orders.pricing import StepCode
from orders.quoting.actions.paper import issue_quote_paper
from orders.quoting.links import quote_url
from orders.records.numbering import next_numbers

AT_ONCE: Final = 1_000
WHY: Final = "Demo data."
#: One order in so many came from a reorder and has no quote.
_REORDERED: Final = 4
#: Of the quotes that became no order.
_OTHERWISE: Final = (
    Quote.Status.DECLINED, Quote.Status.EXPIRED, Quote.Status.DECLINED, Quote.Status.SENT,
    Quote.Status.EXPIRED, Quote.Status.VOID, Quote.Status.DRAFT, Quote.Status.EXPIRED,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Asked:
    """What one customer asks for: a recipe and where it goes."""

    recipe: SavedRecipe
    place: ShipTo


@dataclass(frozen=True, slots=True)
class People:
    """Who did all of it."""

    rep: User
    plant: User
    office: User


class Demand:
    """Which recipe is asked for by whom, for running numbers of orders and quotes."""

    def __init__(
        self, size: PlantSize, recipes: Sequence[SavedRecipe], places: Sequence[ShipTo]
    ) -> None:
        self.size, self.recipes, self.places = size, recipes, places
        self.place_of = {place.company_id: place for place in places}

    def of(self, number: int) -> Asked:
        """The blend's own customer, or for the plant's own book anybody."""
        recipe = self.recipes[self._recipe(number)]
        anybody = self.places[number % len(self.places)]
        return Asked(recipe, self.place_of.get(recipe.company_id or 0, anybody))

    def status(self, number: int) -> Order.Status:
        """Orders go by age: shipped, made, planned, open."""
        left = number - self.size.shipped_orders
        for status, count in (
            (Order.Status.MADE, self.size.made_orders),
            (Order.Status.PLANNED, self.size.planned_orders),
        ):
            if left < 0:
                return Order.Status.SHIPPED
            if left < count:
                return status
            left -= count
        return Order.Status.SHIPPED if left < 0 else Order.Status.OPEN

    def _recipe(self, number: int) -> int:
        """Orders still to be made are of a few recipes, as in a season; the rest is of all."""
        first_to_make = self.size.shipped_orders + self.size.made_orders
        if number >= first_to_make:
            return (number * 7) % min(self.size.planned_recipes, len(self.recipes))
        return int(spread(number, 2) * len(self.recipes))


def add_quotes(demand: Demand, people: People) -> dict[int, int]:
    """The quotes; the ids of those that became orders, by the order's running number.

    What is still open has its paper: quotes that wait for an answer, and those of orders that
    have not left. To draw the papers of all years would take most of an hour.
    """
    size, now = demand.size, timezone.now()
    numbers = next_numbers("Q", size.quotes)
    with_quote = [n for n in range(size.orders) if n % _REORDERED][: size.quotes]
    of_order: dict[int, int] = {}
    for start in range(0, size.quotes, AT_ONCE):
        rows: list[tuple[Quote, Asked, int | None]] = []
        for at in range(start, min(size.quotes, start + AT_ONCE)):
            order = with_quote[at] if at < len(with_quote) else None
            asked = demand.of(at if order is None else order)
            quote = Quote(
                number=numbers[at],
                company_id=asked.place.company_id,
                ship_to=asked.place,
                validity_days=30,
                valid_until=timezone.localdate() + timedelta(days=30 if order is None else -1),
                notes=WHY,
                created_by=people.rep,
                sent_at=now,
                priced_on=timezone.localdate(),
                decided_at=None if order is None else now,
                decided_by_name="" if order is None else "Demo-Owner",
                total=asked.recipe.kind.line.line_total + asked.recipe.kind.line.deposit,
                deposit_total=asked.recipe.kind.line.deposit,
            )
            rows.append((quote, asked, order))
        Quote.objects.bulk_create([quote for quote, _, _ in rows])
        # While they are drafts: the lines of what was sent are written by nobody.
        QuoteLine.objects.bulk_create(
            QuoteLine(
                quote=quote,
                n_rate_lb_per_1000sqft=asked.recipe.kind.line.n_rate_lb_per_1000sqft,
                price_per_package=asked.recipe.kind.line.price_per_package,
                **_figures(asked.recipe),
            )
            for quote, asked, _ in rows
        )
        by_status: dict[Quote.Status, list[int]] = {}
        for at, (quote, _, order) in enumerate(rows, start=start):
            status = Quote.Status.ACCEPTED if order is not None else _OTHERWISE[at % 8]
            quote.status = status
            by_status.setdefault(status, []).append(quote.pk)
            if order is not None:
                of_order[order] = quote.pk
        for status, ids in by_status.items():
            sent = None if status == Quote.Status.DRAFT else now
            Quote.objects.filter(pk__in=ids).update(status=status, sent_at=sent)
        QuoteEvent.objects.bulk_create(_quote_events([quote for quote, _, _ in rows], people))
        for quote, _, order in rows:
            is_open = demand.status(order) != Order.Status.SHIPPED if order is not None else False
            if is_open or quote.status == Quote.Status.SENT:
                issue_quote_paper(quote=quote, acting_user=people.rep, accept_url=quote_url(quote))
    return of_order


def add_orders(
    demand: Demand, people: People, quotes: dict[int, int], today: date
) -> list[tuple[OrderLine, Asked]]:
    """The orders with a line each, by running number."""
    size = demand.size
    numbers = next_numbers("O", size.orders)
    found: list[tuple[OrderLine, Asked]] = []
    for start in range(0, size.orders, AT_ONCE):
        orders, lines, reservations = [], [], []
        for at in range(start, min(size.orders, start + AT_ONCE)):
            asked, status = demand.of(at), demand.status(at)
            pattern = asked.recipe.kind.line
            order = Order(
                number=numbers[at],
                quote_id=quotes.get(at),
                company_id=asked.place.company_id,
                ship_to=asked.place,
                status=status,
                due_on=_due_on(at, status, size, today),
                customer_reference=f"demo-{at:06d}",
                total=pattern.line_total + pattern.deposit,
                deposit_total=pattern.deposit,
            )
            line = OrderLine(
                order=order,
                n_rate_lb_per_1000sqft=pattern.n_rate_lb_per_1000sqft,
                material=asked.recipe.kind.price.amount(StepCode.MATERIAL),
                earned=asked.recipe.kind.price.earned,
                **_figures(asked.recipe),
            )
            orders.append(order)
            lines.append((line, asked))
        Order.objects.bulk_create(orders)
        OrderLine.objects.bulk_create([line for line, _ in lines])
        OrderEvent.objects.bulk_create(_order_events(orders, people))
        for (line, asked), order in zip(lines, orders, strict=True):
            if order.status != Order.Status.SHIPPED:
                reservations.append((line, asked))
        found += lines
        _reserve(reservations)
    return found


def _reserve(lines: Sequence[tuple[OrderLine, Asked]]) -> None:
    revisions = {asked.recipe.revision_id for _, asked in lines}
    shares = _shares(revisions)
    StockReservation.objects.bulk_create(
        StockReservation(
            order_line=line, stock_id=stock, needed_lb=pounds(max(0.001, line.mass_lb * pct / 100))
        )
        for line, asked in lines
        for stock, pct in shares[asked.recipe.revision_id]
    )


def _shares(revisions: set[int]) -> dict[int, list[tuple[int, float]]]:
    found: dict[int, list[tuple[int, float]]] = {pk: [] for pk in revisions}
    rows = RevisionLine.objects.filter(revision__in=revisions).order_by()
    for revision, stock, pct in rows.values_list("revision", "stock", "pct"):
        found[revision].append((stock, pct))
    return found


def _figures(recipe: SavedRecipe) -> dict[str, Any]:
    """What a quote's line and an order's line have alike; pounds follow the recipe."""
    pattern = recipe.kind.line
    return {
        "position": 1,
        "revision_id": recipe.revision_id,
        "package_id": pattern.package_id,
        "quantity": pattern.quantity,
        "volume_gal": pattern.volume_gal,
        "mass_lb": round(pattern.volume_gal * recipe.density_lb_per_gal, 3),
        "price": recipe.price(),
        "price_per_gal": pattern.price_per_gal,
        "line_total": pattern.line_total,
        "deposit": pattern.deposit,
    }


def _due_on(at: int, status: Order.Status, size: PlantSize, today: date) -> date:
    """Shipped over three years, the older the earlier; what is to be made over two months."""
    if status == Order.Status.SHIPPED:
        return today - timedelta(days=1 + (size.shipped_orders - at) * 1095 // size.orders)
    return today + timedelta(days=int(spread(at, 3) * 60) - 3)


def _quote_events(quotes: Sequence[Quote], people: People) -> Iterator[QuoteEvent]:
    for quote in quotes:
        data = {"total": str(quote.total)}
        yield _event(QuoteEvent, people.rep, "", Quote.Status.DRAFT, quote=quote, data=data)
        if not quote.is_draft:
            yield _event(
                QuoteEvent, people.rep, Quote.Status.DRAFT, quote.status, quote=quote, data=data
            )


def _order_events(orders: Sequence[Order], people: People) -> Iterator[OrderEvent]:
    for order in orders:
        yield _event(OrderEvent, people.rep, "", Order.Status.OPEN, order=order)
        if order.status != Order.Status.OPEN:
            yield _event(OrderEvent, people.plant, Order.Status.OPEN, order.status, order=order)


def _event(model: Any, by: User, old: str, new: str, **more: Any) -> Any:
    return model(by=by, who=str(by), from_status=old, to_status=new, why=WHY, **more)
