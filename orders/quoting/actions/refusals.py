"""Why a quote cannot be changed, sent or answered, said to the person who wants to."""

from collections.abc import Sequence
from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.figures.readers import house
from blendshop.roles import Role, has_role
from orders.models import Quote, ShipTo
from orders.quoting.choices import Choice, choices_of
from orders.quoting.draft_prices import DraftLine

WRITES_QUOTES: Final = (Role.REP, Role.OFFICE)
#: Between how many a customer can be asked to choose.
CHOICES: Final = (2, 3)
Status = Quote.Status


def why_closed(quote: Quote, today: date) -> str:
    """Why a quote can no longer be answered, in a sentence; empty while it can."""
    if quote.status == Status.SENT and quote.valid_until >= today:
        return ""
    if quote.status in (Status.SENT, Status.EXPIRED):
        last_day = house().date(quote.valid_until)
        return _("{number} was valid until {last_day}; ask us for a new one.").format(
            number=quote.number, last_day=last_day
        )
    if quote.status == Status.ACCEPTED:
        return _("{number} was accepted by {who}.").format(
            number=quote.number, who=quote.decided_by_name
        )
    if quote.status == Status.DECLINED:
        return _("{number} was declined by {who}.").format(
            number=quote.number, who=quote.decided_by_name
        )
    if quote.status == Status.VOID and (newest := quote.newest_version) != quote:
        return _("{number} is replaced by {newest}.").format(
            number=quote.number, newest=newest.number
        )
    if quote.status == Status.VOID:
        return _("{number} was withdrawn; ask us for a new one.").format(number=quote.number)
    return _("{number} has not been sent yet.").format(number=quote.number)


def may_be_replaced(quote: Quote) -> bool:
    """Whether it went out and nothing was ordered by it, so that a next version may follow."""
    return quote.sent_at is not None and quote.status != Status.ACCEPTED


def require_may_answer(quote: Quote, user: User | None) -> None:
    """Only the customer answers, by login or link, and staff for a customer on the telephone."""
    if user is None or has_role(user, *WRITES_QUOTES):
        return
    if not has_role(user, Role.CUSTOMER) or user.company_id != quote.company_id:
        raise NotAllowed(_("Only the customer can answer this quote."))
    if not user.may_order:
        raise NotAllowed(_("You may look and not order; ask whoever orders for your company."))


def require_choice(quote: Quote, number: int | None) -> Choice | None:
    """Which of its choices is taken; None where there is nothing to choose."""
    if not quote.choices:
        return None
    for choice in choices_of(quote):
        if choice.number == number:
            return choice
    message = _("Say which of the {count} you take.").format(count=quote.choices)
    raise BadInput(
        _("{number} lets you choose. {say}").format(number=quote.number, say=message),
        fields={"choice": message},
    )


def require_draft(quote: Quote) -> None:
    """Only a draft may be changed, repriced or sent."""
    if not quote.is_draft:
        raise IllegalMove(
            _("{number} is {status}, no longer a draft.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )


def require_reason(quote: Quote, why: str) -> None:
    """Who negotiates below the floor tells the office why."""
    negotiated = (
        quote.agreed_freight is not None
        or quote.deal
        or any(line.deal or line.margin_pct is not None for line in quote.lines.all())
    )
    is_below = any(line.price_breakdown.needs_approval for line in quote.lines.all())
    if negotiated and is_below and not why.strip():
        told = _("Tell the office why the price is to go below the floor.")
        raise BadInput(told, fields={"why": told})


def require_awaiting(quote: Quote) -> None:
    """Only what waits for approval can be approved."""
    if quote.status != Status.AWAITING_APPROVAL:
        raise IllegalMove(
            _("{number} is {status}; nothing to approve.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )


def require_fitting(
    company: Company, ship_to: ShipTo, lines: Sequence[DraftLine], validity_days: int
) -> None:
    """Refuse parts that do not belong together before anything is priced."""
    if not company.active:
        raise BadInput(
            _("{company} is not an active customer.").format(company=company),
            fields={"company": _("Not active.")},
        )
    if ship_to.company_id != company.pk:
        message = _("{ship_to} is not an address of {company}.").format(
            ship_to=ship_to, company=company
        )
        raise BadInput(message, fields={"ship_to": _("Choose one of this customer's addresses.")})
    if not 1 <= validity_days <= 365:
        message = _("A quote is valid for 1 to 365 days.")
        raise BadInput(message, fields={"validity_days": message})
    if not lines:
        raise BadInput(_("A quote needs at least one line."), fields={"lines": _("Add a line.")})
    for line in lines:
        owner = line.revision.blend.company_id
        if owner not in (None, company.pk):
            message = _("{blend} belongs to another customer.").format(blend=line.revision.blend)
            raise BadInput(message, fields={"revision": message})
        if line.deal is not None and line.deal.is_price and line.margin_pct is not None:
            told = _("Give a margin or a price, not both.")
            raise BadInput(told, fields={"deal": told})
        if line.quantity < 1:
            raise BadInput(_("Order at least one."), fields={"quantity": _("At least 1.")})
    if sum(line.alternative for line in lines) not in (0, *CHOICES):
        raise BadInput(
            _("A choice is between two or three lines; mark as many as alternatives, or none."),
            fields={"alternative": _("Mark two or three lines, or none.")},
        )


def require_day_to_come(wanted_on: date | None, today: date) -> None:
    """Nothing is wanted on a day that is over."""
    if wanted_on is not None and wanted_on < today:
        message = _("The day it is wanted on is over.")
        raise BadInput(message, fields={"wanted_on": message})
