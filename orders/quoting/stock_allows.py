"""The recipe of a draft's line as the stock on hand allows, where the quoted one takes too much."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.errors import BadInput, DomainError
from blendshop.money import money
from formulas.contracts.formulation import Solution, formulate
from formulas.engine_bridge import load_catalogue
from orders.inventory.cover import stock_cover
from orders.inventory.on_hand import on_hand, with_on_hand
from orders.models import Quote, QuoteLine
from orders.pricing import PriceBreakdown
from orders.quoting.deals import deal_of_quote
from orders.quoting.draft_prices import draft_lines_of, price_draft, ways_to_take
from orders.quoting.requests import WishedBlend


@dataclass(frozen=True, slots=True)
class LineAsStockAllows:
    """``shares`` is percent by weight by stock code; empty where no such blend can be made.

    ``per_gal`` is the line's selling price with it to the cent, ``per_gal_more`` than as quoted;
    ``problem`` is why there is none although the line is short.
    """

    shares: Mapping[str, float]
    per_gal: Decimal | None = None
    per_gal_more: Decimal | None = None
    problem: str = ""


def line_as_stock_allows(quote: Quote, position: int, today: date) -> LineAsStockAllows | None:
    """One more solution of the line's wish; None where the stock it takes is on hand.

    What the other lines of the same choice take is left to them.
    """
    lines = list(quote.lines.select_related("revision__blend", "package"))
    line = next((each for each in lines if each.position == position), None)
    if line is None or not _is_short(line, lines, today):
        return None
    try:
        solution = _solved(line, lines, today)
    except DomainError as error:
        return LineAsStockAllows({}, problem=error.message)
    if solution is None:
        return LineAsStockAllows({})
    shares = {share.code: share.pct for share in solution.blend.shares if share.pct > 0}
    try:
        price = _price_with(quote, lines, line, solution, today)
    except BadInput as error:
        return LineAsStockAllows({}, problem=error.message)
    per_gal = money(price.price_per_gal)
    return LineAsStockAllows(shares, per_gal, per_gal - money(line.price_per_gal))


def place_of(lines: Sequence[QuoteLine], line: QuoteLine) -> int:
    """Where a saved line stands among what its draft asks for."""
    asked = draft_lines_of(lines)
    together = [each for each in lines if each.choice == line.choice]
    return ways_to_take(asked)[line.choice][together.index(line)]


def _is_short(line: QuoteLine, lines: Sequence[QuoteLine], today: date) -> bool:
    """Whether a stock that the line takes does not reach for all lines of a choice together."""
    taken: dict[str, Decimal] = defaultdict(Decimal)
    for each in lines:
        if each.choice == line.choice:
            for row in each.price_breakdown.material:
                taken[row.code] += row.lb
    own = {row.code for row in line.price_breakdown.material}
    cover = stock_cover([(code, code, lb) for code, lb in taken.items() if code in own], today)
    return any(each.short_lb for each in cover or ())


def _taken_beside(line: QuoteLine, lines: Sequence[QuoteLine]) -> Mapping[str, Decimal]:
    """Pounds by stock code of the other lines taken with it, in whatever choice that is most."""
    asked, place = draft_lines_of(lines), place_of(lines, line)
    most: dict[str, Decimal] = {}
    for choice, places in ways_to_take(asked).items():
        together = [each for each in lines if each.choice == choice]
        beside: dict[str, Decimal] = defaultdict(Decimal)
        for other, at in zip(together, places, strict=True) if place in places else ():
            for row in other.price_breakdown.material if at != place else ():
                beside[row.code] += row.lb
        for code, lb in beside.items():
            most[code] = max(lb, most.get(code, lb))
    return most


def _solved(line: QuoteLine, lines: Sequence[QuoteLine], today: date) -> Solution | None:
    wished = line.revision.wished
    if wished.margin is not None:
        raise BadInput(
            _("It was made with a margin, which holds for its own recipe: solve it anew.")
        )
    catalogue, load = load_catalogue(today), line.price_breakdown.load
    # A little more is weighed than is sold, so that what is sold is there for sure.
    gallons = line.volume_gal if load is None else load.loads * load.made_gal
    tanks = on_hand(catalogue, gallons, today, spoken_for=_taken_beside(line, lines))
    limits, exclude = with_on_hand(tanks, wished.stock_limits, wished.exclude)
    wish = replace(wished, recipe=(), stock_limits=tuple(limits), exclude=tuple(exclude))
    return formulate(wish.contract_json(), catalogue=catalogue).solution


def _price_with(
    quote: Quote, lines: Sequence[QuoteLine], line: QuoteLine, solution: Solution, today: date
) -> PriceBreakdown:
    """The line's price with the recipe, beside the others of its choice."""
    asked, place = draft_lines_of(lines), place_of(lines, line)
    other = WishedBlend(line.revision.wished, solution.blend)
    draft = price_draft(
        asked,
        company=quote.company,
        ship_to=quote.ship_to,
        today=today,
        agreed_freight=quote.agreed_freight,
        deal=deal_of_quote(quote),
        instead={place: other},
    )
    way = next(way for way in draft.ways if way.choice == line.choice)
    return way.price.lines[way.places.index(place)]
