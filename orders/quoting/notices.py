"""What people of the plant are told of quotes: the rep of its own, the office of money."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta
from typing import TYPE_CHECKING, Final

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.languages.choice import in_house_words
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.notices.models import How
from blendshop.roles import Role
from orders.models import Quote
from orders.quoting.mail import ABOUT, staff_letter

if TYPE_CHECKING:
    from datetime import date

    from blendshop.accounts.models import User
    from blendshop.notices.mail import Letter
    from orders.models import Order

#: Time for a call and an answer over a weekend; common practice, no source.
EXPIRES_SOON: Final = timedelta(days=4)
_SELLERS: Final = frozenset({Role.REP, Role.OFFICE})
_BY_MAIL: Final = {Role.REP: How.MAIL, Role.OFFICE: How.MAIL}

OPENED: Final = register(Kind("quote_opened", gettext_lazy("Quote opened"), _SELLERS))
ACCEPTED: Final = register(
    Kind("quote_accepted", gettext_lazy("Quote accepted"), _SELLERS, _BY_MAIL)
)
DECLINED: Final = register(
    Kind("quote_declined", gettext_lazy("Quote declined"), _SELLERS, _BY_MAIL)
)
APPROVAL_ASKED: Final = register(
    Kind("price_approval", gettext_lazy("Price to approve"), frozenset({Role.OFFICE}), _BY_MAIL)
)
APPROVAL_ANSWERED: Final = register(
    Kind("price_answered", gettext_lazy("Price approved or sent back"), _SELLERS, _BY_MAIL)
)
EXPIRING: Final = register(
    Kind(
        "quote_expiring",
        gettext_lazy("Quote about to expire"),
        _SELLERS,
        many=gettext_lazy("{count} quotes expire soon: {names}"),
        many_link="quote_list",
    )
)


@in_house_words()
def tell_opened(quote: Quote) -> None:
    """The rep hears once that the customer's link was opened, by a person or by its mail server."""
    text = _("{company} has opened {number}.").format(company=quote.company, number=quote.number)
    _tell(OPENED, quote, quote.number, text, by=None)


@in_house_words()
def tell_expiring(today: date) -> None:
    """Each rep, once, of its own quotes that are out and close within ``EXPIRES_SOON``."""
    soon = Quote.objects.filter(
        status=Quote.Status.SENT, valid_until__range=(today, today + EXPIRES_SOON)
    )
    of_rep = defaultdict(list)
    for quote in soon.select_related("company").order_by("valid_until", "pk"):
        day = house().date(quote.valid_until)
        text = _("{number} for {company} expires on {day}.").format(
            number=quote.number, company=quote.company, day=day
        )
        cause = _cause(quote, quote.number, text, name=f"{quote.number} ({day})")
        of_rep[quote.created_by_id].append(cause)
    for rep, causes in sorted(of_rep.items()):
        with transaction.atomic():
            tell(EXPIRING, people_of(also=[rep]), *causes, by=None)


@in_house_words()
def tell_accepted(quote: Quote, order: Order, *, by: User | None) -> None:
    text = _("{company} accepted {number}: {total}; it is order {order}.").format(
        company=quote.company, number=quote.number, total=_total(quote), order=order.number
    )
    letter = staff_letter(
        quote,
        "orders/quoting/mail/quote_accepted.txt",
        _("Quote {number} is accepted"),
        order=order,
    )
    _tell(ACCEPTED, quote, quote.number, text, Role.OFFICE, by=by, letter=letter)


@in_house_words()
def tell_declined(quote: Quote, why: str, *, by: User | None) -> None:
    text = _("{company} declined {number}.").format(company=quote.company, number=quote.number)
    letter = staff_letter(
        quote,
        "orders/quoting/mail/quote_declined.txt",
        _("Quote {number} is declined"),
        why=why,
    )
    _tell(DECLINED, quote, quote.number, f"{text} {why}".strip(), by=by, letter=letter)


@in_house_words()
def tell_approval_asked(quote: Quote, why: str, *, by: User) -> None:
    """The office alone: what it decides is money."""
    text = _("{number} for {company}, {total}, waits for your approval.").format(
        number=quote.number, company=quote.company, total=_total(quote)
    )
    letter = staff_letter(
        quote,
        "orders/quoting/mail/quote_awaiting_approval.txt",
        _("Quote {number} waits for your approval"),
        why=why,
    )
    cause = _cause(quote, _at_event(quote), text)
    tell(APPROVAL_ASKED, people_of(Role.OFFICE), cause, by=by, letter=letter)


@in_house_words()
def tell_approved(quote: Quote, why: str, *, by: User) -> None:
    text = _("{number} is approved and sent.").format(number=quote.number)
    letter = staff_letter(
        quote,
        "orders/quoting/mail/quote_approved.txt",
        _("Quote {number} is approved and sent"),
        why=why,
    )
    _tell(APPROVAL_ANSWERED, quote, _at_event(quote), text, by=by, letter=letter)


@in_house_words()
def tell_sent_back(quote: Quote, why: str, *, by: User) -> None:
    text = _("{number} comes back to you: {why}").format(number=quote.number, why=why)
    letter = staff_letter(
        quote,
        "orders/quoting/mail/quote_sent_back.txt",
        _("Quote {number} comes back to you"),
        why=why,
    )
    _tell(APPROVAL_ANSWERED, quote, _at_event(quote), text, by=by, letter=letter)


def _tell(
    kind: Kind,
    quote: Quote,
    key: str,
    text: str,
    *also: Role,
    by: User | None,
    letter: Letter | None = None,
) -> None:
    people = people_of(*also, also=[quote.created_by_id])
    tell(kind, people, _cause(quote, key, text), by=by, letter=letter)


def _cause(quote: Quote, key: str, text: str, *, name: str = "") -> Cause:
    return Cause(
        key=key,
        name=name or quote.number,
        text=text,
        link=reverse("quote_detail", args=[quote.number]),
        about=(ABOUT, quote.number),
    )


def _at_event(quote: Quote) -> str:
    """Names what just happened to the quote: it may be asked for and answered again."""
    return f"{quote.number}:{quote.events.order_by('-pk')[0].pk}"


def _total(quote: Quote) -> str:
    return house().money(quote.total, settings.CURRENCY)
