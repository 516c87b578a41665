"""What is done to quotes because of new costs: each one whole or not at all."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import IllegalMove
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role, require_role
from orders.cost_change.letter import letter_subject, letter_text
from orders.cost_change.proposed import proposed_catalogue
from orders.models import CostChange, Quote, QuoteEvent
from orders.quoting.actions.quotes import reprice_draft, withdraw_quote
from orders.quoting.actions.versions import draft_next_version
from orders.quoting.mail import ABOUT, recipients
from orders.records.moves import note
from orders.records.reply_address import reply_address

#: Who acts on many quotes at once; a rep goes on doing so one by one.
ACTS_ON_QUOTES: Final = (Role.OFFICE,)
_TOLD: Final = "told_of_cost_change"


class Deed(StrEnum):
    WITHDRAW = "withdraw"
    DRAFT = "draft"
    MAIL = "mail"


def act_on_quote(
    *, deed: Deed, quote: Quote, change: CostChange, acting_user: User, words: str
) -> str:
    """Do it to one quote in a transaction of its own; what was done, in a sentence.

    ``words`` are the reason of a withdrawal or the message of a mail. A DomainError says why it
    cannot be done; the quote is then as it was.
    """
    require_role(acting_user, *ACTS_ON_QUOTES)
    with transaction.atomic():
        # Of the same press twice at once the second waits, and finds what the first has done.
        quote = Quote.objects.select_for_update(no_key=True).get(pk=quote.pk)
        if deed is Deed.WITHDRAW:
            withdraw_quote(quote=quote, acting_user=acting_user, why=words)
            return _("Withdrawn.")
        if deed is Deed.DRAFT:
            return _drafted(quote, change, acting_user)
        return _told(quote, change, acting_user, words)


def _drafted(quote: Quote, change: CostChange, acting_user: User) -> str:
    today = timezone.localdate()
    in_force = change.is_in_force(today)
    catalogue = None if in_force else proposed_catalogue(change, today, include_short=True)
    at = f"Priced at the new costs “{change.name}”."
    if quote.is_draft:
        reprice_draft(quote=quote, acting_user=acting_user, catalogue=catalogue)
        note(quote, acting_user=acting_user, why=at, data={"cost_change": change.pk})
        return _("Priced anew at the new costs.")
    if quote.status != Quote.Status.SENT:
        raise IllegalMove(
            _("{number} is {status}; only a draft or a quote that is out is drafted anew.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )
    if there := quote.next_version:
        raise IllegalMove(
            _("{number} has a next version already: {there}.").format(
                number=quote.number, there=there.number
            )
        )
    drafted = draft_next_version(quote=quote, acting_user=acting_user, catalogue=catalogue)
    note(drafted, acting_user=acting_user, why=at, data={"cost_change": change.pk})
    return _("Drafted anew as {number}.").format(number=drafted.number)


def _told(quote: Quote, change: CostChange, acting_user: User, words: str) -> str:
    if quote.status != Quote.Status.SENT:
        raise IllegalMove(
            _("{number} is {status}; its customer is mailed only of a quote that is out.").format(
                number=quote.number, status=quote.get_status_display()
            )
        )
    if QuoteEvent.objects.filter(quote=quote, **{f"data__{_TOLD}": change.pk}).exists():
        raise IllegalMove(
            _("{number}: its customer was mailed already.").format(number=quote.number)
        )
    to = recipients(quote)
    if not to:
        raise IllegalMove(
            _("{number}: nobody there has a login or an address; call them.").format(
                number=quote.number
            )
        )
    post_mail(
        to=to,
        subject=letter_subject(quote),
        text=letter_text(quote, words),
        about=(ABOUT, quote.number),
        caused_by=acting_user,
        reply_to=reply_address(quote),
    )
    note(quote, acting_user=acting_user, why="Customer told of new costs.", data={_TOLD: change.pk})
    return _("To be mailed to {addresses}.").format(addresses=", ".join(to))
