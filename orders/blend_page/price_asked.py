"""The price of the blend against the one a caller does not want to exceed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from django.conf import settings
from django.http import QueryDict
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from orders.blend_page import fields as f
from orders.blend_page.price_fields import GALLON
from orders.blend_page.prices import Price
from orders.models import Package


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
    undelivered = undelivered_words(data)
    if not undelivered:
        return compared
    if compared is None:
        return PriceAsked(undelivered, None)
    return PriceAsked(f"{compared.words} {undelivered}", compared.is_kept)


def undelivered_words(data: QueryDict) -> str:
    """Empty unless the delivery was asked for and no place is chosen."""
    if not data.get(f.ASKED_DELIVERED) or data.get("ship_to"):
        return ""
    return _("Without the delivery that was asked for: choose a ship-to.")


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
    return price.per(per) if per == GALLON or asked_for(price.package, per) else None


def asked_for(package: Package | None, per: str) -> bool:
    """Whether a price for ``per`` is one for this package."""
    return package is not None and package.kind.startswith(per)


def _dollars(text: str) -> Decimal | None:
    try:
        found = Decimal(text)
    except InvalidOperation:
        return None
    return found if found.is_finite() and found > 0 else None
