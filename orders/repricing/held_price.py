"""A quote held at its price while its costs are today's: every step anew, the margin what is left.

What is weighed stays what was planned when it was quoted; costs of stocks, fees, freight and the
customer's floor are those of today.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.money import ZERO, unit_price
from formulas.engine_bridge import Catalogue, exact
from orders import pricing
from orders.frozen.line_price import LinePrice
from orders.frozen.quote_margins import LineThenNow, QuoteThenNow, StepThenNow
from orders.models import OrderLine, QuoteLine
from orders.pricing import MarginKind, PriceBreakdown, QuotePrice, QuoteTerms, StepCode
from orders.quoting.choices import choices_among
from orders.quoting.requests import package_option
from orders.quoting.terms import unpriceable

#: A line whose price was given.
GivenLine = QuoteLine | OrderLine


@dataclass(frozen=True, slots=True)
class HeldQuote:
    """Margins over all lines, dollars and percent; ``then_and_now`` has each step."""

    margin_then: Decimal
    margin_now: Decimal
    margin_pct_then: Decimal | None
    margin_pct_now: Decimal | None
    floor_pct: Decimal
    is_below_floor: bool
    then_and_now: QuoteThenNow


def held_quote(lines: Sequence[GivenLine], terms: QuoteTerms, catalogue: Catalogue) -> HeldQuote:
    """The lines of a quote or an order (packages fetched) held at their prices.

    BadInput in a sentence when a stock has no cost today or the terms cannot price it.
    """
    then = [line.price_breakdown for line in lines]
    now = held_price(lines, terms, catalogue).lines
    policy = terms.margin
    return HeldQuote(
        margin_then=_margin(then),
        margin_now=_margin(now),
        margin_pct_then=_margin_pct(then, policy),
        margin_pct_now=_margin_pct(now, policy),
        floor_pct=policy.floor_pct,
        is_below_floor=any(price.needs_approval for price in now),
        then_and_now=QuoteThenNow(
            tuple(
                _beside(line.position, *prices)
                for line, *prices in zip(lines, then, now, strict=True)
            )
        ),
    )


def least_earning(lines: Sequence[QuoteLine], terms: QuoteTerms, catalogue: Catalogue) -> HeldQuote:
    """The same of a quote whose customer may still choose: the choice that earns least now.

    It is below the floor when any of them is.
    """
    choices = choices_among(lines, None)
    ways = (choice.lines for choice in choices) if choices else (lines,)
    held = [held_quote(taken, terms, catalogue) for taken in ways]
    least = min(
        held,
        key=lambda way: (
            way.margin_pct_now is not None,
            way.margin_pct_now or ZERO,
        ),
    )
    return replace(least, is_below_floor=any(way.is_below_floor for way in held))


def held_price(lines: Sequence[GivenLine], terms: QuoteTerms, catalogue: Catalogue) -> QuotePrice:
    """The price in all its steps, whose totals without deposit are the quoted ones.

    What was given away stays given: the discount in dollars, and the freight that was agreed.
    """
    try:
        asked = [_held_line(line, line.price_breakdown, catalogue) for line in lines]
        return pricing.price_quote(asked, replace(terms, agreed_freight=_agreed(lines, terms)))
    except pricing.PricingError as error:
        raise unpriceable(error) from error


def _held_line(line: GivenLine, price: LinePrice, catalogue: Catalogue) -> pricing.QuoteLine:
    package, load = line.package, price.load
    option = package_option(package)
    given, of_quote = -price.amount(StepCode.DISCOUNT), -price.amount(StepCode.QUOTE_DISCOUNT)
    return pricing.QuoteLine(
        recipe=tuple(
            pricing.RecipeLine(
                code=stock.code,
                name=stock.name,
                lb=stock.lb,
                cost_per_lb=_cost(stock.code, stock.name, catalogue.cost_per_lb),
            )
            for stock in price.material
        ),
        # What it may hold was looked at when it was quoted.
        package=option if option.max_net_lb is None else replace(option, max_net_lb=None),
        packages=None if package.is_bulk else line.quantity,
        bulk_gal=price.volume_gal if package.is_bulk else None,
        batches=1 if load is None else load.loads,
        n_pct=exact(price.blend.analysis.get("N", 0.0)),
        override=pricing.Override(price_total=line.line_total + given + of_quote),
        discount=pricing.Discount(amount=given) if given else None,
        share=_held_share(line.line_total) if of_quote else None,
        planned=pricing.PlannedMaterial(
            net_lb=price.mass_lb,
            made_gal=price.volume_gal if load is None else load.loads * exact(load.made_gal),
            room_per_gal=ZERO if load is None else load.room_cost_per_gal,
        ),
    )


def _held_share(price: Decimal) -> pricing.WholeShare:
    return pricing.WholeShare(price=price, agreed=price, is_discount=True)


def _agreed(lines: Sequence[GivenLine], terms: QuoteTerms) -> Decimal | None:
    """The freight that was agreed; None where it was by tariff, or is picked up by now."""
    prices = [line.price_breakdown for line in lines]
    if terms.delivery is None or all(price.freight_tariff is None for price in prices):
        return None
    return sum((price.amount(StepCode.FREIGHT) for price in prices), ZERO)


def _cost(code: str, name: str, costs: Mapping[str, Decimal]) -> Decimal:
    if code not in costs:
        raise BadInput(_("{name} has no cost today.").format(name=name))
    return costs[code]


def _margin(prices: Sequence[PriceBreakdown]) -> Decimal:
    return sum((price.earned for price in prices), ZERO)


def _margin_pct(prices: Sequence[PriceBreakdown], policy: pricing.MarginPolicy) -> Decimal | None:
    """Of all lines together, to four places; as ``PriceBreakdown.margin_pct`` of one."""
    passed_on = sum((price.amount(code) for price in prices for code in policy.pass_through), ZERO)
    price_total = sum((price.price_total for price in prices), ZERO)
    margin = _margin(prices)
    whole = price_total - passed_on
    if policy.kind == MarginKind.MARKUP:
        whole -= margin
    return unit_price(100 * margin / whole) if whole > 0 else None


def _beside(position: int, then: PriceBreakdown, now: PriceBreakdown) -> LineThenNow:
    codes = dict.fromkeys(step.code for step in (*now.steps, *then.steps))
    return LineThenNow(
        position=position,
        steps=tuple(StepThenNow(code, then.amount(code), now.amount(code)) for code in codes),
        margin_pct_then=_shown(then.margin_pct),
        margin_pct_now=_shown(now.margin_pct),
        below_floor=now.approval_reason,
    )


def _shown(pct: Decimal | None) -> Decimal | None:
    return None if pct is None else unit_price(pct)
