"""What people of the plant are told of stock: certificates out of line, and what is short."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from orders.inventory.levels import Purchase, purchases

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from blendshop.accounts.models import User
    from orders.inventory.plausibility import Doubt
    from orders.models import StockLot

OUT_OF_LINE: Final = register(
    Kind("out_of_line", gettext_lazy("Certificate out of line"), frozenset({Role.FORMULATOR}))
)

SHORT: Final = register(
    Kind(
        "stock_short",
        gettext_lazy("Stock short"),
        frozenset({Role.PLANT, Role.OFFICE}),
        many=gettext_lazy("{count} stocks are short for open orders: {names}"),
        many_link="stock_levels",
    )
)


def tell_out_of_line(lot: StockLot, doubted: Sequence[Doubt], *, by: User) -> None:
    """Formulators, who know what such figures do to a blend, of what was confirmed all the same."""
    text = _("{lot}, {stock}, is out of line: {said}").format(
        lot=lot.code, stock=lot.stock.name, said=" ".join(doubt.said for doubt in doubted)
    )
    cause = Cause(
        key=f"{lot.code}:{lot.events.order_by('-pk')[0].pk}",
        name=lot.code,
        text=text,
        link=reverse("lot_detail", args=[lot.code]),
        about=("lot", lot.code),
    )
    tell(OUT_OF_LINE, people_of(Role.FORMULATOR), cause, by=by)


def tell_short(today: date) -> None:
    """Who receives and who buys, of each stock that open orders want more of than there is."""
    causes = [_short(purchase) for purchase in purchases(today)]
    with transaction.atomic():
        tell(SHORT, people_of(*SHORT.roles), *causes, by=None)


def _short(purchase: Purchase) -> Cause:
    """Told again only once it is needed by another day."""
    stock, by = purchase.stock, house().date(purchase.by)
    text = _("{stock} ({code}) is short: {lb} by {day}.").format(
        stock=stock.name, code=stock.code, lb=house().mass(purchase.lb, 0), day=by
    )
    return Cause(
        key=f"{stock.code}:{purchase.by}",
        name=f"{stock.code} ({by})",
        text=text,
        link=reverse("stock_levels"),
        about=("stock", stock.code),
    )
