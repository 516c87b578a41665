"""What the pages about quotes show: by role, from the frozen figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.db.models import Q

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.errors import BadInput
from blendshop.figures.readers import reader
from blendshop.plant_steps import PlantStep, step_of
from blendshop.roles import SEES_COST, Role, has_role
from orders.models import Quote, QuoteEvent, QuoteLine, ShipTo
from orders.models.quote import QuoteQuerySet
from orders.ordering.made_lines import made_lines
from orders.pricing import PriceBreak, PriceBreakdown
from orders.quoting.actions.refusals import may_be_replaced
from orders.quoting.choices import Choice, ChoiceView, choice_words, choices_among, choices_of
from orders.quoting.customer_cautions import customer_stops
from orders.quoting.deal_words import deal_words
from orders.quoting.deals import QuoteDeal, deal_of_quote
from orders.quoting.draft_prices import (
    DraftLine,
    PricedDraft,
    PricedWay,
    approval_reasons,
    draft_lines_of,
    price_draft,
)
from orders.quoting.line_strip import StripLine, line_strips, stops_by_line
from orders.quoting.load_words import load_words
from orders.quoting.offered_date import offered_date
from orders.quoting.quote_view import offered
from orders.quoting.quote_words import LineWords, quote_words
from orders.quoting.state_fees import fee_caution
from orders.records.written import has_english_beside, written_for
from orders.verdict.strip import Standing, Strip, Subject


@dataclass(frozen=True, slots=True)
class LineView:
    """A saved line as staff read it: the row, its price, what the plant has to know of it.

    ``load`` says for what load it was priced, empty in lines of before. ``sold_as`` is the grade it
    was made in, where that is not the quoted one. ``opens_choice`` says what choice begins with the
    line, while one is open.
    """

    line: QuoteLine
    price: PriceBreakdown
    load: str
    cautions: tuple[str, ...]
    strip: Strip
    sold_as: str = ""
    opens_choice: str = ""

    @property
    def is_short(self) -> bool:
        """Whether stock on hand does not cover what is taken together with it."""
        return any(
            each.subject is Subject.STOCK and each.standing is Standing.CAUTION
            for each in self.strip.results
        )


@dataclass(frozen=True, slots=True)
class OfferedLine:
    """A line as the customer reads it, and the grade it was made in where that is another.

    ``stops`` is what the office has answered for, in sentences.
    """

    words: LineWords
    sold_as: str = ""
    opens_choice: str = ""
    stops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PreviewLine:
    """A line that is not saved yet, priced, with its quantity table; ``number`` as on the sheet."""

    number: int
    line: DraftLine
    price: PriceBreakdown
    load: str
    breaks: tuple[PriceBreak, ...]
    strip: Strip


@dataclass(frozen=True, slots=True)
class PreviewWay:
    """What is taken together, with its total; ``choice`` is None without a choice."""

    choice: int | None
    lines: tuple[PreviewLine, ...]
    total: Decimal
    deposit_total: Decimal
    load_count: int
    whole: WholeView | None = None


@dataclass(frozen=True, slots=True)
class WholeView:
    """A deal over all lines of a way: their price without deposit ``before`` it, and ``agreed``.

    ``as_discount`` is the amount off that leads to the same, where a price was asked for and this
    is the way it was asked of.
    """

    before: Decimal
    agreed: Decimal
    as_discount: Decimal | None = None

    @property
    def off(self) -> Decimal:
        return self.before - self.agreed

    @property
    def more(self) -> Decimal:
        return -self.off

    @property
    def off_pct(self) -> Decimal:
        return 100 * self.off / self.before


@dataclass(frozen=True, slots=True)
class Preview:
    """The price of a sheet, or why there is none and the step of the plant it waits for.

    ``lines`` are those of all ``ways``, one after the other; ``total`` is the lowest.
    """

    ways: tuple[PreviewWay, ...] = ()
    total: Decimal | None = None
    approval_reasons: tuple[str, ...] = ()
    fee_caution: str = ""
    problem: str = ""
    missing: PlantStep | None = None

    @property
    def lines(self) -> tuple[PreviewLine, ...]:
        return tuple(line for way in self.ways for line in way.lines)

    @property
    def totals(self) -> tuple[Decimal, ...]:
        """Of every way, in their order."""
        return tuple(way.total for way in self.ways)


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """An event in the words of the page."""

    event: QuoteEvent

    @property
    def moved(self) -> bool:
        return self.event.from_status != self.event.to_status

    @property
    def status(self) -> str:
        return str(Quote.Status(self.event.to_status).label)

    @property
    def total(self) -> Decimal | None:
        return self.event.total


def find_quotes(user: User, wanted: Mapping[str, Any]) -> QuoteQuerySet:
    """The quotes a person may see, narrowed by ``q`` and ``status``."""
    quotes = Quote.objects.visible_to(user)
    if text := (wanted.get("q") or "").strip():
        # A quote with two matching lines is one quote: ask by key, do not join.
        by_blend = QuoteLine.objects.filter(revision__blend__name__icontains=text)
        quotes = quotes.filter(
            Q(number__icontains=text)
            | Q(company__in=named(Company.objects.all(), text))
            | Q(pk__in=by_blend.values("quote"))
        )
    if status := wanted.get("status"):
        quotes = quotes.filter(status=status)
    return quotes


def line_views(quote: Quote, today: date) -> tuple[LineView, ...]:
    """The lines of a quote as they are stored, with what became of them since."""
    views, sold = [], _sold_as(quote)
    lines = list(quote.lines.select_related("revision__blend", "package"))
    strips = _strips(quote, lines, today)
    for line, strip in zip(lines, strips, strict=True):
        price = line.price_breakdown
        views.append(
            LineView(
                line=line,
                price=price,
                load=load_words(price.load, reader()) if price.load else "",
                cautions=tuple(notice.message for notice in line.revision.solved.alerts),
                strip=strip,
                sold_as=sold.get(line.position, ""),
            )
        )
    return tuple(views)


def _strips(quote: Quote, lines: Sequence[QuoteLine], today: date) -> Iterator[Strip]:
    """One a line, in their order; the lines of another choice take no stock of this one's."""
    for _choice, together in groupby(lines, key=lambda line: line.choice):
        yield from line_strips(
            [StripLine.of(line, line.price_breakdown.material) for line in together],
            company=quote.company,
            ship_to=quote.ship_to,
            today=today,
            by=quote.due_on,
        )


def offer_page(quote: Quote, today: date, *, taken: int | None = None) -> dict[str, Any]:
    """The context of what a customer reads of a quote: by the link, signed in, before accepting.

    ``taken`` is the choice that is about to be accepted.
    """
    chosen = quote.chosen or taken
    view = offered(quote).if_taken(chosen)
    offer = quote_words(view, reader())
    # Only what is ordered was made, in the order it is printed in.
    sold = _sold_as(quote)
    positions = quote.taken_lines().values_list("position", flat=True) if sold else ()
    made = {number: sold.get(at, "") for number, at in enumerate(positions, start=1)}
    opens = {choice.lines[0].number: choice.name for choice in offer.choices}
    return {
        "quote": quote,
        "offer": offer,
        "lines": tuple(
            OfferedLine(
                line,
                made.get(line.number, ""),
                opens.get(line.number, ""),
                # Also what became a stop since it was sent.
                tuple(dict.fromkeys((*line.stops, *stops))),
            )
            for line, stops in zip(offer.lines, _stops(quote, chosen, today), strict=True)
        ),
        "choices": _choice_views(choices_of(quote)),
        "due": offered_date(quote, today),
        "order": getattr(quote, "order", None),
        "has_english_print": view.in_english is not None,
    }


def _stops(quote: Quote, chosen: int | None, today: date) -> Iterator[tuple[str, ...]]:
    """What stops each line of the choice, of every choice while none is made."""
    lines = quote.lines.select_related("revision")
    if chosen:
        lines = lines.filter(choice=chosen)
    found = stops_by_line(
        [StripLine.of(line) for line in lines],
        company=quote.company,
        ship_to=quote.ship_to,
        today=today,
    )
    yield from (customer_stops(stops) for stops in found)


def _choice_views(choices: Iterable[Choice]) -> tuple[ChoiceView, ...]:
    return tuple(ChoiceView(choice, choice_words(choice, reader())) for choice in choices)


def quoted_lines(quote: Quote, today: date) -> dict[str, Any]:
    """For a page: the ``choices`` there are or were (ChoiceView) and the ``lines``.

    Once one is chosen the lines are those of it; before that those of each, one after the other.
    """
    views = line_views(quote, today)
    choices = _choice_views(choices_among((view.line for view in views), quote.chosen))
    if quote.is_choice_open:
        first = {each.choice.lines[0].pk: each.words for each in choices}
        views = tuple(replace(view, opens_choice=first.get(view.line.pk, "")) for view in views)
    else:
        views = tuple(view for view in views if view.line.choice == quote.chosen)
    return {"lines": views, "choices": choices}


def _sold_as(quote: Quote) -> dict[int, str]:
    """The grades of the order's lines, by position in the quote, that are not the quoted ones."""
    order = getattr(quote, "order", None)
    if order is None:
        return {}
    made = made_lines(order.lines.select_related("revision", "package"))
    quoted = dict(enumerate(quote.taken_lines().values_list("position", flat=True), start=1))
    return {
        quoted[each.line.position]: each.grade
        for each in made
        if each.grade != each.line.revision.grade
    }


def preview(
    lines: tuple[DraftLine, ...],
    *,
    company: Any,
    ship_to: Any,
    today: date,
    agreed_freight: Decimal | None = None,
    deal: QuoteDeal | None = None,
) -> Preview:
    """Price lines that are not saved, with quantity tables."""
    try:
        draft = price_draft(
            lines,
            company=company,
            ship_to=ship_to,
            today=today,
            agreed_freight=agreed_freight,
            deal=deal,
            with_breaks=True,
        )
    except BadInput as error:
        return Preview(problem=error.message, missing=step_of(error))
    views = tuple(
        _way(lines, draft, way, company=company, ship_to=ship_to, today=today) for way in draft.ways
    )
    if deal is not None and deal.is_price:
        views = tuple(_with_discount_offered(views))
    return Preview(
        ways=views,
        total=draft.price.total,
        approval_reasons=approval_reasons(draft),
        fee_caution=fee_caution(ship_to),
    )


def price_today(quote: Quote, today: date) -> Preview:
    """What a quote's lines would cost now; for quotes that have not gone out."""
    lines = draft_lines_of(list(quote.lines.select_related("revision__blend", "package")))
    return preview(
        lines,
        company=quote.company,
        ship_to=quote.ship_to,
        today=today,
        agreed_freight=quote.agreed_freight,
        deal=deal_of_quote(quote),
    )


def _with_discount_offered(ways: Sequence[PreviewWay]) -> Iterator[PreviewWay]:
    """The same; the way a price was asked of says by what discount it is reached too."""
    asked = min((way.whole.before for way in ways if way.whole), default=None)
    for way in ways:
        whole = way.whole
        if whole is not None and whole.before == asked and whole.off > 0:
            yield replace(way, whole=replace(whole, as_discount=whole.off))
            asked = None
        else:
            yield way


def _way(
    lines: tuple[DraftLine, ...],
    draft: PricedDraft,
    way: PricedWay,
    *,
    company: Company,
    ship_to: ShipTo,
    today: date,
) -> PreviewWay:
    strips = line_strips(
        [
            StripLine(lines[place].revision, lines[place].n_rate_lb_per_1000sqft, price.material)
            for place, price in zip(way.places, way.price.lines, strict=True)
        ],
        company=company,
        ship_to=ship_to,
        today=today,
        by=None,
    )
    return PreviewWay(
        choice=way.choice,
        lines=tuple(
            PreviewLine(
                place + 1,
                lines[place],
                breakdown,
                load_words(draft.requests[place].load, reader()),
                draft.breaks[place],
                strip,
            )
            for place, breakdown, strip in zip(way.places, way.price.lines, strips, strict=True)
        ),
        total=way.price.total,
        deposit_total=way.price.deposit_total,
        load_count=len(way.price.loads),
        whole=None
        if way.price.before_whole is None
        else WholeView(way.price.before_whole, way.price.price_total),
    )


def _said_about_approval(history: Sequence[HistoryRow]) -> HistoryRow | None:
    """Why the rep asks the office, or why it came back; None where neither is the last move."""
    asked = Quote.Status.AWAITING_APPROVAL
    last = next((row for row in reversed(history) if row.moved), None)
    if last is None:
        return None
    event = last.event
    is_back = (event.from_status, event.to_status) == (asked, Quote.Status.DRAFT)
    return last if event.to_status == asked or is_back else None


def quote_page(quote: Quote, user: User, today: date) -> dict[str, Any]:
    """The context of a quote's own page; staff figures only for those who see cost."""
    context: dict[str, Any] = {
        "may_answer": quote.status == Quote.Status.SENT
        and quote.valid_until >= today
        and user.may_order,
        "newest": quote.newest_version,
        "shows_cost": has_role(user, *SEES_COST),
    }
    if not context["shows_cost"]:
        return {**offer_page(quote, today), **context}
    writes = has_role(user, Role.REP, Role.OFFICE)
    next_version = quote.next_version
    in_house = quote.status in (Quote.Status.DRAFT, Quote.Status.AWAITING_APPROVAL)
    today_price = price_today(quote, today) if in_house else None
    shown = quoted_lines(quote, today)
    history = tuple(HistoryRow(event) for event in quote.events.all())
    written = tuple(view.choice.total for view in shown["choices"]) or (quote.total,)
    return {
        **context,
        "quote": quote,
        **shown,
        "deal": deal_words(quote, reader()),
        "due": offered_date(quote, today),
        "order": getattr(quote, "order", None),
        "may_preview": writes and in_house,
        "has_english_print": has_english_beside(written_for(quote.company)),
        "seen_choices": ",".join(str(view.choice.total) for view in shown["choices"]),
        "today_differs": today_price is not None
        and not today_price.problem
        and today_price.totals != written,
        "history": history,
        "said": _said_about_approval(history),
        "today_price": today_price,
        "may_edit": writes and quote.is_draft,
        "may_approve": has_role(user, Role.OFFICE)
        and quote.status == Quote.Status.AWAITING_APPROVAL,
        "may_withdraw": writes and Quote.Status.VOID in quote.MOVES[quote.status],
        "may_record_answer": writes and context["may_answer"],
        "next_version": next_version,
        "may_replace": writes and may_be_replaced(quote) and next_version is None,
        "may_copy": writes,
    }
