"""What the same wish would cost made of what is on hand and reserved for nobody.

Reservations count whenever they are due: what an order has reserved is not free before it either.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.errors import DomainError
from orders.blend_page.answering import answered
from orders.blend_page.legal import Legal
from orders.blend_page.page_wish import volume_gal, wish_of
from orders.blend_page.prices import Price, Pricer
from orders.blend_page.wish_form import WishForm
from orders.inventory.on_hand import on_hand
from orders.quoting.requests import WishedBlend


@dataclass(frozen=True, slots=True)
class AsStockAllows:
    """Selling price per gallon, None where no such blend is; ``per_gal_more`` than as asked.

    ``problem`` is why it could not be worked out.
    """

    per_gal: Decimal | None = None
    per_gal_more: Decimal | None = None
    problem: str = ""


def as_stock_allows(form: WishForm, legal: Legal | None, price: Price) -> AsStockAllows:
    """One more solution of the wish in a valid form, whose price as asked is ``price``."""
    options, pricer = form.options, Pricer(form)
    gallons = volume_gal(pricer.package, form.cleaned_data)
    tanks = on_hand(options.catalogue, gallons, options.today)
    try:
        found = answered(form, wish_of(form, legal, tanks))
    except DomainError as error:
        return AsStockAllows(problem=error.message)
    if found.formulation.blend is None:
        return AsStockAllows()
    (allowed,) = pricer.price_each([WishedBlend(found.asked.wish, found.formulation.blend)])
    if allowed.per_gal is None or price.per_gal is None:
        return AsStockAllows(problem=allowed.problem or price.problem)
    return AsStockAllows(allowed.per_gal, allowed.per_gal - price.per_gal)
