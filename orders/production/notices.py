"""What people of the plant are told of batches: begun without a review, holds and releases."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.models import How
from blendshop.roles import Role
from orders.records.reply_address import rep_of_order

if TYPE_CHECKING:
    from collections.abc import Sequence

    from blendshop.accounts.models import User
    from orders.models import Batch, Order

HELD: Final = register(
    Kind("batch_held", gettext_lazy("Batch held"), frozenset({Role.PLANT, Role.FORMULATOR}))
)
RELEASED: Final = register(
    Kind("batch_released", gettext_lazy("Batch released"), frozenset({Role.PLANT, Role.REP}))
)
GO_AHEAD: Final = register(
    Kind(
        "batch_go_ahead",
        gettext_lazy("Batch made without a review"),
        frozenset({Role.PLANT, Role.FORMULATOR}),
        {Role.FORMULATOR: How.MAIL},
    )
)


def tell_go_ahead(batch: Batch, why: str, *, by: User) -> None:
    """The floor, which waited for it, and formulators, who did not review it."""
    text = _("{number} is to be made without a review of its recipe: {why}").format(
        number=batch.number, why=why
    )
    tell(GO_AHEAD, people_of(*GO_AHEAD.roles), _cause(batch, text), by=by)


def tell_held(batch: Batch, why: str, *, by: User) -> None:
    """The floor, which leaves it standing, and formulators, who alone let it go."""
    text = _("{number} is held: {why}").format(number=batch.number, why=why)
    tell(HELD, people_of(*HELD.roles), _cause(batch, text), by=by)


def tell_released(batch: Batch, orders: Sequence[Order], *, by: User) -> None:
    """The floor, which fills and ships it, and the reps of its orders."""
    text = _("{number} is released, for {orders}.").format(
        number=batch.number, orders=", ".join(f"{each.number} {each.company}" for each in orders)
    )
    reps = [rep.pk for rep in map(rep_of_order, orders) if rep]
    tell(RELEASED, people_of(Role.PLANT, also=reps), _cause(batch, text), by=by)


def _cause(batch: Batch, text: str) -> Cause:
    return Cause(
        key=f"{batch.number}:{batch.events.order_by('-pk')[0].pk}",
        name=batch.number,
        text=text,
        link=reverse("batch_detail", args=[batch.number]),
        about=("batch", batch.number),
    )
