"""What people of the plant are told of stock: lots held, certificates out of line, shortage."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import MOST_NAMED, Kind, register
from blendshop.roles import Role
from orders.inventory.levels import Purchase, purchases
from orders.inventory.trace import trace
from orders.models import BatchPart, Order
from orders.records.reply_address import rep_of_order

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from blendshop.accounts.models import User
    from orders.inventory.plausibility import Doubt
    from orders.models import StockLot

OUT_OF_LINE: Final = register(
    Kind("out_of_line", gettext_lazy("Certificate out of line"), frozenset({Role.FORMULATOR}))
)

_OF_LOTS: Final = frozenset({Role.PLANT, Role.FORMULATOR, Role.REP})
LOT_HELD: Final = register(Kind("lot_held", gettext_lazy("Lot held"), _OF_LOTS))
LOT_RELEASED: Final = register(Kind("lot_released", gettext_lazy("Lot released"), _OF_LOTS))

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


def tell_lots_held(lots: Sequence[StockLot], why: str, *, by: User) -> None:
    """Of a lot and what was split from it, once: floor, formulators, reps of what it stops.

    These are the reps of orders that have not left and have something of it in them.
    """
    lot, *splits = lots
    orders = _orders_here(lot)
    text = _("{lot}, {stock}, is held: {why}").format(
        lot=lot.code, stock=lot.stock.name, why=_sentence(why)
    )
    if splits:
        text += " " + _("With it {lots}.").format(lots=_named([each.code for each in splits]))
    if orders:
        text += " " + _("It stops {orders}.").format(orders=_of_whom(orders))
    _tell_of_lot(LOT_HELD, lot, text, orders, by=by)


def tell_lot_released(lot: StockLot, why: str, *, by: User) -> None:
    """The same people: what it stopped goes on, unless something else stops it."""
    orders = _orders_here(lot)
    text = _("{lot}, {stock}, may be used again: {why}").format(
        lot=lot.code, stock=lot.stock.name, why=_sentence(why)
    )
    if orders:
        text += " " + _("It stopped {orders}.").format(orders=_of_whom(orders))
    _tell_of_lot(LOT_RELEASED, lot, text, orders, by=by)


def _sentence(why: str) -> str:
    return why.strip().rstrip(".") + "."


def _orders_here(lot: StockLot) -> list[Order]:
    """Orders that have not left, some batch of which holds something of the lot; by due date."""
    found = trace(lot.code)
    parts = BatchPart.objects.filter(batch__in=found.batches.ids if found else ())
    here = Order.objects.open().filter(pk__in=parts.values("order_line__order"))
    return list(here.select_related("company", "quote__created_by").order_by("due_on", "pk"))


def _of_whom(orders: Sequence[Order]) -> str:
    return _named([f"{order.number} {order.company}" for order in orders])


def _named(names: Sequence[str]) -> str:
    more = ["…"] if len(names) > MOST_NAMED else []
    return ", ".join([*names[:MOST_NAMED], *more])


def _tell_of_lot(
    kind: Kind, lot: StockLot, text: str, orders: Sequence[Order], *, by: User
) -> None:
    reps = {rep.pk for rep in map(rep_of_order, orders) if rep}
    cause = Cause(
        key=f"{lot.code}:{lot.events.order_by('-pk')[0].pk}",
        name=lot.code,
        text=text,
        link=reverse("lot_detail", args=[lot.code]),
        about=("lot", lot.code),
    )
    tell(kind, people_of(Role.PLANT, Role.FORMULATOR, also=reps), cause, by=by)


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
