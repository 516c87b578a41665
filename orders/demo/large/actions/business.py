"""Quotes and orders of many seasons, at the money of the demo's own lines."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.utils import timezone

from blendshop.accounts.models import User
from formulas.models import RevisionLine
from orders.demo.large.kinds import SavedRecipe, pounds
from orders.demo.large.size import PlantSize, spread
from orders.demo.large.times import DAYS, OrderTimes, at_hour, order_times
from orders.demo.year.actions.dated import put_in
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
_DECLINED: Final = (Quote.Status.DECLINED,)
_REASONS: Final = ("Price too high.", "Bought elsewhere.", "", "Too late in the season.")
_VALID_DAYS: Final = 30


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

    def due_on(self, number: int, today: date) -> date:
        """Shipped over three years, the older the earlier; what is to be made over two months."""
        size = self.size
        if self.status(number) == Order.Status.SHIPPED:
            return today - timedelta(days=1 + (size.shipped_orders - number) * DAYS // size.orders)
        return today + timedelta(days=int(spread(number, 3) * 60) - 3)

    def times(self, number: int, today: date) -> OrderTimes:
        return order_times(number, self.due_on(number, today), self.status(number), today)

    def _recipe(self, number: int) -> int:
        """Orders still to be made are of a few recipes, as in a season; the rest is of all."""
        first_to_make = self.size.shipped_orders + self.size.made_orders
        if number >= first_to_make:
            return (number * 7) % min(self.size.planned_recipes, len(self.recipes))
        return int(spread(number, 2) * len(self.recipes))


def add_quotes(demand: Demand, people: People, today: date) -> dict[int, int]:
    """The quotes; the ids of those that became orders, by the order's running number.

    Of what is still open the newest has its paper: quotes that wait for an answer, and those of
    orders that have not left. To draw the papers of all years would take most of an hour.
    """
    size = demand.size
    numbers = next_numbers("Q", size.quotes)
    with_quote = [n for n in range(size.orders) if n % _REORDERED][: size.quotes]
    of_order: dict[int, int] = {}
    with_paper: deque[Quote] = deque(maxlen=size.quote_papers)
    for start in range(0, size.quotes, AT_ONCE):
        rows: list[tuple[Quote, Asked, int | None]] = []
        for at in range(start, min(size.quotes, start + AT_ONCE)):
            order = with_quote[at] if at < len(with_quote) else None
            asked = demand.of(at if order is None else order)
            status = Quote.Status.ACCEPTED if order is not None else _OTHERWISE[at % 8]
            sent, decided = _quote_times(demand, at, order, status, today)
            quote = Quote(
                number=numbers[at],
                company_id=asked.place.company_id,
                ship_to=asked.place,
                validity_days=_VALID_DAYS,
                valid_until=timezone.localdate(sent) + timedelta(days=_VALID_DAYS),
                notes=WHY,
                created_by=people.rep,
                created_at=sent,
                sent_at=sent,
                priced_on=timezone.localdate(sent),
                decided_at=decided,
                decided_by_name="Demo-Owner" if decided else "",
                decision_note=_REASONS[at % len(_REASONS)] if status in _DECLINED else "",
                total=asked.recipe.kind.line.line_total + asked.recipe.kind.line.deposit,
                deposit_total=asked.recipe.kind.line.deposit,
            )
            rows.append((quote, asked, order))
        put_in(Quote, [quote for quote, _, _ in rows])
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
            Quote.objects.filter(pk__in=ids).update(status=status)
            if status == Quote.Status.DRAFT:
                Quote.objects.filter(pk__in=ids).update(sent_at=None)
        put_in(QuoteEvent, _quote_events([quote for quote, _, _ in rows], people))
        for quote, _, order in rows:
            is_open = demand.status(order) != Order.Status.SHIPPED if order is not None else False
            if is_open or quote.status == Quote.Status.SENT:
                with_paper.append(quote)
    for quote in with_paper:
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
            pattern, times = asked.recipe.kind.line, demand.times(at, today)
            order = Order(
                number=numbers[at],
                quote_id=quotes.get(at),
                company_id=asked.place.company_id,
                ship_to=asked.place,
                status=status,
                due_on=demand.due_on(at, today),
                created_at=times.placed,
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
        put_in(Order, orders)
        OrderLine.objects.bulk_create([line for line, _ in lines])
        put_in(OrderEvent, _order_events(orders, start, demand, people, today))
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
        "price": recipe.price,
        "price_per_gal": pattern.price_per_gal,
        "line_total": pattern.line_total,
        "deposit": pattern.deposit,
    }


def _quote_times(
    demand: Demand, at: int, order: int | None, status: Quote.Status, today: date
) -> tuple[datetime, datetime | None]:
    """When a quote was sent and when it was answered; what still waits went out lately."""
    if order is not None:
        times = demand.times(order, today)
        return times.sent, times.placed
    days_ago = 1 + (demand.size.quotes - at) * DAYS // demand.size.quotes
    if status in (Quote.Status.SENT, Quote.Status.DRAFT):
        days_ago = 1 + int(spread(at) * 20)
    sent = at_hour(today - timedelta(days=days_ago), 15)
    return sent, sent + timedelta(days=int(spread(at, 1) * 9)) if status in _DECLINED else None


def _quote_events(quotes: Sequence[Quote], people: People) -> Iterator[QuoteEvent]:
    for quote in quotes:
        more = {"quote": quote, "data": {"total": str(quote.total)}, "at": quote.created_at}
        yield _event(QuoteEvent, people.rep, "", Quote.Status.DRAFT, **more)
        if not quote.is_draft:
            yield _event(QuoteEvent, people.rep, Quote.Status.DRAFT, quote.status, **more)


def _order_events(
    orders: Sequence[Order], first: int, demand: Demand, people: People, today: date
) -> Iterator[OrderEvent]:
    """One after the other, as an order goes; of the running numbers from ``first`` on."""
    for at, order in enumerate(orders, start=first):
        times = demand.times(at, today)
        way = (
            (people.rep, Order.Status.OPEN, times.placed),
            (people.plant, Order.Status.PLANNED, times.planned),
            (people.plant, Order.Status.MADE, times.made),
            (people.plant, Order.Status.SHIPPED, times.left),
        )
        before = ""
        for by, status, moment in way:
            yield _event(OrderEvent, by, before, status, order=order, at=moment)
            if status == order.status:
                break
            before = status


def _event(model: Any, by: User, old: str, new: str, **more: Any) -> Any:
    return model(by=by, who=str(by), from_status=old, to_status=new, why=WHY, **more)
