"""What is negotiated over all lines of a quote together, brought down to each of them.

**Which price.** A discount or a price asked for is of the lines without deposit, after what was
negotiated on each. Where the customer chooses, it is that of the choice with the lowest price
(the first of equal ones); every other choice is priced at the same ratio, to the cent.

**The last cent.** Each line has the same share of the agreed price as of the price before it,
rounded down to the cent; the cents left over go to the largest remainders, of equal ones to the
earlier line. So the lines add up to what was agreed exactly, and no line rises by a discount.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from blendshop.money import ZERO, format_money, money, split_money
from orders.pricing.checks import PricingError, require_decimal
from orders.pricing.line import QuoteLine, WholeShare
from orders.pricing.quote import QuotePrice, price_quote
from orders.pricing.terms import QuoteTerms


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeDeal:
    """Over a whole quote; exactly one is given.

    ``pct`` is percent off, ``amount`` dollars off, both shown to the customer as a discount.
    ``price`` is what the customer wants to pay for all of it, in dollars: it leaves the margin.
    """

    pct: Decimal | None = None
    amount: Decimal | None = None
    price: Decimal | None = None

    def __post_init__(self) -> None:
        given = {"whole.pct": self.pct, "whole.amount": self.amount, "whole.price": self.price}
        named = {field: value for field, value in given.items() if value is not None}
        if len(named) != 1:
            raise PricingError("whole", "give exactly one of percent, amount, price.")
        for field, value in named.items():
            limit = Decimal(100) if field == "whole.pct" else None
            require_decimal(field, value, at_least=ZERO, below=limit)

    @property
    def is_discount(self) -> bool:
        return self.price is None

    def agreed(self, price: Decimal, currency: str) -> Decimal:
        """What ``price`` becomes, in cents; PricingError where it takes off more than that."""
        if self.price is not None:
            return money(self.price)
        off = money(price * self.pct / 100) if self.pct is not None else money(self.amount or ZERO)
        if off > price:
            shown = format_money(price, currency)
            raise PricingError("whole", f"takes more off than the price of {shown}.")
        return price - off


def price_choices(
    choices: Sequence[Sequence[QuoteLine]], terms: QuoteTerms, whole: WholeDeal | None = None
) -> tuple[QuotePrice, ...]:
    """Each choice of a quote priced by itself, its lines together; all at the ``whole`` deal.

    PricingError names what cannot be priced.
    """
    before = [price_quote(lines, terms) for lines in choices]
    if whole is None:
        return tuple(before)
    lowest = min(price.price_total for price in before)
    agreed = whole.agreed(lowest, terms.currency)
    return tuple(
        _at(lines, price, terms, whole, _same_ratio(price.price_total, agreed, lowest))
        for lines, price in zip(choices, before, strict=True)
    )


def _same_ratio(price: Decimal, agreed: Decimal, lowest: Decimal) -> Decimal:
    if lowest <= 0:
        raise PricingError("whole", "nothing can be agreed on what costs nothing.")
    return money(price * agreed / lowest)


def _at(
    lines: Sequence[QuoteLine],
    before: QuotePrice,
    terms: QuoteTerms,
    whole: WholeDeal,
    agreed: Decimal,
) -> QuotePrice:
    shares = split_money(agreed, [line.price_total for line in before.lines])
    shared = [
        replace(line, share=WholeShare(price=share, agreed=agreed, is_discount=whole.is_discount))
        for line, share in zip(lines, shares, strict=True)
    ]
    return replace(price_quote(shared, terms), before_whole=before.price_total)
