"""What people of the plant are told of stock: certificates that are out of line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role

if TYPE_CHECKING:
    from collections.abc import Sequence

    from blendshop.accounts.models import User
    from orders.inventory.plausibility import Doubt
    from orders.models import StockLot

OUT_OF_LINE: Final = register(
    Kind("out_of_line", gettext_lazy("Certificate out of line"), frozenset({Role.FORMULATOR}))
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
