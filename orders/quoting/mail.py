"""Plain-text mails about a quote, posted with the change they tell of."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.figures.readers import house, read_in
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role
from orders.models import Quote
from orders.quoting.choices import ChoiceView, choice_words, choices_of
from orders.quoting.links import quote_url
from orders.quoting.load_words import load_words, weighed_words

#: The kind of record a quote's mails are about.
ABOUT = "quote"


def mail_customer(
    quote: Quote, template: str, subject: str, acting_user: User | None, **more: Any
) -> list[str]:
    """Mail the customer's people who can sign in and the quote's own addresses, with the signed
    link; the addresses.
    """
    people = User.objects.filter(
        company=quote.company_id, is_active=True, groups__name=Role.CUSTOMER.value
    )
    return _mail(
        quote,
        template,
        subject,
        people,
        acting_user,
        page_url=quote_url(quote),
        more_addresses=quote.mailed_to,
        **more,
    )


def mail_author(
    quote: Quote, template: str, subject: str, acting_user: User | None, **more: Any
) -> None:
    """Mail the rep who wrote the quote."""
    people = User.objects.filter(pk=quote.created_by_id, is_active=True)
    _mail(quote, template, subject, people, acting_user, page_url=_staff_url(quote), **more)


def mail_office(
    quote: Quote, template: str, subject: str, acting_user: User | None, **more: Any
) -> None:
    """Mail everybody of the office."""
    people = User.objects.filter(is_active=True, groups__name=Role.OFFICE.value)
    _mail(quote, template, subject, people, acting_user, page_url=_staff_url(quote), **more)


def _staff_url(quote: Quote) -> str:
    return settings.SITE_URL + reverse("quote_detail", args=[quote.number])


def _mail(
    quote: Quote,
    template: str,
    subject: str,
    people: QuerySet[User],
    acting_user: User | None,
    *,
    more_addresses: Sequence[str] = (),
    **context: Any,
) -> list[str]:
    named = {address.lower(): address for address in more_addresses}
    logins = {address.lower(): address for address in people.values_list("email", flat=True)}
    recipients = sorted((named | logins).values())
    if not recipients:
        return []
    choices = choices_of(quote) if quote.is_choice_open else ()
    lines = list(
        (quote.lines.all() if choices else quote.taken_lines()).select_related(
            "revision__blend", "package"
        )
    )
    loads = [line.price_breakdown.load for line in lines]
    context |= {
        "choices": [ChoiceView(choice, choice_words(choice, house())) for choice in choices],
        "loads": list(dict.fromkeys(load_words(load, house()) for load in loads if load)),
        "weighed": dict.fromkeys(weighed_words(load, house()) for load in loads if load),
    }
    with read_in(house()):  # several people read it, whoever sends it
        text = render_to_string(template, {"quote": quote, "lines": lines, **context})
    post_mail(
        to=recipients,
        subject=subject.format(number=quote.number),
        text=text,
        about=(ABOUT, quote.number),
        caused_by=acting_user,
    )
    return recipients
