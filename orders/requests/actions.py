"""A request is released to an order, or declined with a reason.

Until then it is no order of the plant: it reserves no stock, takes no place in the tanks, is in no
plan and counts for no other date, nor in what the company has open. Its price is the one that was
shown; its date is asked again when it is released.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.roles import Role, has_role, require_role
from formulas.blends.actions import review_recipe
from formulas.blends.reviews import REVIEWERS, not_reviewed
from orders.models import Order
from orders.ordering.actions import ORDER_PREFIX
from orders.ordering.limits import above_limits
from orders.ordering.mail import mail_order
from orders.planning.actions.reservations import reserve_for_order
from orders.planning.due_dates import read_due_dates
from orders.records.moves import move, require_move
from orders.records.numbering import hold_series

#: Who looks at what waits.
DECIDERS: Final = (Role.REP, Role.FORMULATOR, Role.OFFICE)
#: Who may let a company order more than was agreed with it.
LIFTS_LIMITS: Final = (Role.REP, Role.OFFICE)


def release_request(
    *,
    order: Order,
    acting_user: User,
    why: str = "",
    reviewing: Collection[int] = (),
    seen_event: int | None = None,
) -> None:
    """The request becomes an order, dated anew where its date cannot be kept any more.

    ``reviewing`` are keys of revisions that a formulator reviews with it, having read them;
    ``seen_event`` is the newest event when it was read, ChangedMeanwhile if there is a newer one.
    IllegalMove while a recipe of it is not reviewed, NotAllowed for a formulator above a limit.
    """
    require_role(acting_user, *DECIDERS)
    require_move(order, Order.Status.OPEN)
    with transaction.atomic():
        # Its customer changes it under the same lock: nobody releases what nobody has read.
        Company.objects.select_for_update().get(pk=order.company_id)
        order.refresh_from_db()
        if seen_event is not None and seen_event != order.events.order_by("-pk")[0].pk:
            raise ChangedMeanwhile(
                _("{number} was changed meanwhile; look again.").format(number=order.number)
            )
        lines = list(order.lines.select_related("revision__blend", "package"))
        for revision in {line.revision_id: line.revision for line in lines}.values():
            if revision.pk in reviewing and has_role(acting_user, *REVIEWERS):
                review_recipe(acting_user=acting_user, revision=revision, note=why)
        if missing := not_reviewed(line.revision for line in lines):
            raise IllegalMove(
                _("{number} waits for a formulator's review of {recipes}.").format(
                    number=order.number, recipes=", ".join(map(str, missing))
                )
            )
        above = above_limits(
            order.company, gallons=sum(line.volume_gal for line in lines), total=order.total
        )
        if above and not has_role(acting_user, *LIFTS_LIMITS):
            raise NotAllowed(
                _("{why} The rep or the office releases it.").format(why=" ".join(above))
            )
        hold_series(ORDER_PREFIX)
        earliest = read_due_dates(timezone.localdate()).of_lines(lines).due_on
        told = " ".join(["Released.", *above, why.strip()]).strip()
        due_on = max(order.due_on, earliest)
        move(order, Order.Status.OPEN, acting_user=acting_user, why=told, due_on=due_on)
        reserve_for_order(order)
        mail_order(
            order,
            "orders/ordering/mail/order_confirmed.txt",
            gettext_noop("Order {number} is confirmed"),
            acting_user=acting_user,
        )


def decline_request(*, order: Order, acting_user: User, why: str) -> None:
    """Nothing is made of it; the customer reads why."""
    require_role(acting_user, *DECIDERS)
    require_move(order, Order.Status.DECLINED)
    if not why.strip():
        message = _("Say why; the customer reads it.")
        raise BadInput(message, fields={"why": message})
    with transaction.atomic():
        move(order, Order.Status.DECLINED, acting_user=acting_user, why=why.strip())
        mail_order(
            order,
            "orders/requests/mail/order_declined.txt",
            gettext_noop("{number} cannot be taken"),
            acting_user=acting_user,
            why=why.strip(),
        )
