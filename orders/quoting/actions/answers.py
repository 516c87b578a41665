"""The customer's word on a quote: it becomes an order, or is declined."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from orders.models import Order, Quote
from orders.ordering.actions import ORDER_PREFIX, create_order_from_quote
from orders.quoting.actions.refusals import (
    require_choice,
    require_day_to_come,
    require_may_answer,
    why_closed,
)
from orders.quoting.choices import Choice
from orders.quoting.mail import mail_taken
from orders.quoting.notices import tell_accepted, tell_declined, tell_opened
from orders.quoting.offered_date import due_if_accepted, require_seen
from orders.records.moves import move
from orders.records.numbering import hold_series

Status = Quote.Status


def accept_quote(
    *,
    quote: Quote,
    acting_user: User | None,
    name: str,
    choice: int | None = None,
    seen_due_on: date | None = None,
    reference: str = "",
    wanted_on: date | None = None,
    note: str = "",
) -> Order:
    """The customer agrees: the quote becomes an order. Asked again, it is the same order.

    ``acting_user`` is None when the signed link was used; ``name`` is what was typed there,
    ``reference`` the customer's purchase order number, ``note`` what it tells the plant. Wanted on
    a day behind the date it can be made by, it is due then.
    ``choice`` says which one is taken where the quote offers several; BadInput without it.
    LaterDate when the order would be due after the quote's date and after ``seen_due_on``.
    """
    require_may_answer(quote, acting_user)
    require_day_to_come(wanted_on, timezone.localdate())
    if quote.status == Status.ACCEPTED:
        return _order_of_accepted(quote, choice)
    try:
        with transaction.atomic():
            # What is closed is closed whichever was chosen: _answer says so.
            closed = why_closed(quote, timezone.localdate())
            taken = None if closed else require_choice(quote, choice)
            _answer(quote, Status.ACCEPTED, acting_user, name, why="", taken=taken)
            # Two quotes accepted at once: the second is dated behind the first one's order.
            hold_series(ORDER_PREFIX)
            due_on = due_if_accepted(quote, timezone.localdate())
            require_seen(quote, due_on, seen_due_on)
            order = create_order_from_quote(
                quote=quote,
                acting_user=acting_user,
                accepted_by=quote.decided_by_name,
                due_on=max(due_on, wanted_on or due_on),
                customer_reference=reference.strip()[:80],
                wanted_on=wanted_on,
                customer_note=note.strip()[:400],
            )
            mail_taken(quote, order, acting_user)
            tell_accepted(quote, order, by=acting_user)
    except ChangedMeanwhile:
        quote.refresh_from_db()
        if quote.status != Status.ACCEPTED:
            raise
        return _order_of_accepted(quote, choice)  # the same click, twice at once
    return order


def _order_of_accepted(quote: Quote, choice: int | None) -> Order:
    """The order there is; IllegalMove for whoever now chooses otherwise."""
    if choice is not None and choice != quote.chosen:
        raise IllegalMove(why_closed(quote, timezone.localdate()))
    return quote.order


def decline_quote(*, quote: Quote, acting_user: User | None, name: str, why: str = "") -> None:
    """The customer does not want it. Declining twice changes nothing."""
    require_may_answer(quote, acting_user)
    if quote.status == Status.DECLINED:
        return
    with transaction.atomic():
        _answer(quote, Status.DECLINED, acting_user, name, why=why)
        tell_declined(quote, why, by=acting_user)


def quote_opened(quote: Quote) -> None:
    """Its link was opened by nobody of the plant; the rep is told the first time, while it is out.

    Programs that look into mails open links too: no more follows from it.
    """
    if quote.status == Status.SENT:
        with transaction.atomic():
            tell_opened(quote)


def _answer(
    quote: Quote,
    to: Quote.Status,
    acting_user: User | None,
    name: str,
    *,
    why: str,
    taken: Choice | None = None,
) -> None:
    if closed := why_closed(quote, timezone.localdate()):
        raise IllegalMove(closed)
    if not name.strip():
        raise BadInput(_("Type your name."), fields={"name": _("Your name is needed.")})
    how = "by the signed link" if acting_user is None else f"recorded by {acting_user}"
    columns: dict[str, Any] = {}
    data: dict[str, Any] = {}
    if taken is not None:
        columns = {
            "chosen": taken.number,
            "total": taken.total,
            "deposit_total": taken.deposit_total,
        }
        data = {"choice": taken.number, "total": str(taken.total)}
        why = f"Choice {taken.number}, {taken.alternative.revision.blend.name}."
    move(
        quote,
        to,
        acting_user=acting_user,
        who=f"{name.strip()[:120]} ({how})",
        why=why,
        data=data,
        decided_at=timezone.now(),
        decided_by_name=name.strip()[:120],
        decision_note=why[:400],
        **columns,
    )
