"""The price of the blend against the one a caller does not want to exceed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from django.conf import settings
from django.http import QueryDict
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from orders.blend_page import fields as f
from orders.blend_page.prices import Price

_GALLON = "gal"


@dataclass(frozen=True, slots=True)
class PriceAsked:
    """A sentence, and whether the price keeps what was asked; None where they do not compare."""

    words: str
    is_kept: bool | None


def price_asked(data: QueryDict, price: Price) -> PriceAsked | None:
    """None unless a price or the delivery was asked for in a line, and while there is no price."""
    if price.breakdown is None:
        return None
    asked = _dollars(data.get(f.PRICE_ASKED, ""))
    compared = None if asked is None else _compared(price, asked, data.get(f.PRICE_ASKED_PER, ""))
    if not data.get(f.ASKED_DELIVERED) or data.get("ship_to"):
        return compared
    undelivered = _("Without the delivery that was asked for: choose a ship-to.")
    if compared is None:
        return PriceAsked(undelivered, None)
    return PriceAsked(f"{compared.words} {undelivered}", compared.is_kept)


def _compared(price: Price, asked: Decimal, per: str) -> PriceAsked:
    found = _price_per(price, per)
    if found is None:
        return PriceAsked(_("A price for another package was asked for."), None)
    most = reader().money(asked, settings.CURRENCY)
    if found <= asked:
        words = _("Within the {most} that was asked for.").format(most=most)
    else:
        above = reader().money(found - asked, settings.CURRENCY)
        words = _("{above} above the {most} that was asked for.").format(above=above, most=most)
    return PriceAsked(words, found <= asked)


def _price_per(price: Price, per: str) -> Decimal | None:
    if per == _GALLON:
        return price.per_gal
    is_that = price.package is not None and price.package.kind.startswith(per)
    return price.per_package if is_that else None


def _dollars(text: str) -> Decimal | None:
    try:
        found = Decimal(text)
    except InvalidOperation:
        return None
    return found if found.is_finite() and found > 0 else None
