"""What a rep negotiates, on one line and over a whole quote, as the pure pricing takes it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from orders.models import Quote, QuoteLine
from orders.pricing import Discount, Override, WholeDeal

_DISCOUNTS: Final[Mapping[str, Callable[[Decimal], Discount]]] = {
    QuoteLine.Deal.OFF_PER_GAL: lambda figure: Discount(per_gal=figure),
    QuoteLine.Deal.OFF_PER_PACKAGE: lambda figure: Discount(per_package=figure),
    QuoteLine.Deal.OFF_PCT: lambda figure: Discount(pct=figure),
    QuoteLine.Deal.OFF_LINE: lambda figure: Discount(amount=figure),
}
_PRICES: Final[Mapping[str, Callable[[Decimal], Override]]] = {
    QuoteLine.Deal.PRICE_PER_GAL: lambda figure: Override(price_per_gal=figure),
    QuoteLine.Deal.PRICE_LINE: lambda figure: Override(price_total=figure),
}
_WHOLE: Final[Mapping[str, Callable[[Decimal], WholeDeal]]] = {
    Quote.Deal.OFF_PCT: lambda figure: WholeDeal(pct=figure),
    Quote.Deal.OFF_AMOUNT: lambda figure: WholeDeal(amount=figure),
    Quote.Deal.PRICE: lambda figure: WholeDeal(price=figure),
}


@dataclass(frozen=True, slots=True)
class Deal:
    """``kind`` is one of ``QuoteLine.Deal``; ``figure`` percent or dollars, as the kind says."""

    kind: str
    figure: Decimal

    @property
    def is_price(self) -> bool:
        """A price that was asked for, which leaves no say to a margin."""
        return self.kind in _PRICES

    @property
    def discount(self) -> Discount | None:
        """What is given off; PricingError for a figure that cannot be."""
        make = _DISCOUNTS.get(self.kind)
        return None if make is None else make(self.figure)

    @property
    def override(self) -> Override | None:
        """The price that was asked for; PricingError for a figure that cannot be."""
        make = _PRICES.get(self.kind)
        return None if make is None else make(self.figure)


def deal_of(kind: str, figure: Decimal | None) -> Deal | None:
    """None where nothing was negotiated."""
    return Deal(kind, figure) if kind and figure is not None else None


@dataclass(frozen=True, slots=True)
class QuoteDeal:
    """Over a whole quote: ``kind`` is one of ``Quote.Deal``; ``figure`` percent or dollars."""

    kind: str
    figure: Decimal

    @property
    def is_price(self) -> bool:
        """A price that was asked for, which the customer does not read as a discount."""
        return self.kind == Quote.Deal.PRICE

    @property
    def pct(self) -> Decimal | None:
        """The percentage the customer was told, where it is one."""
        return self.figure if self.kind == Quote.Deal.OFF_PCT else None

    @property
    def whole(self) -> WholeDeal:
        """PricingError for a figure that cannot be."""
        return _WHOLE[self.kind](self.figure)


def quote_deal(kind: str, figure: Decimal | None) -> QuoteDeal | None:
    """None where nothing was negotiated over the whole quote."""
    return QuoteDeal(kind, figure) if kind and figure is not None else None


def deal_of_quote(quote: Quote) -> QuoteDeal | None:
    return quote_deal(quote.deal, quote.deal_figure)
