"""Plain-text mails about a quote, sent only after the commit."""

from functools import partial
from typing import Any

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.figures.readers import house, read_in
from blendshop.roles import Role
from orders.models import Quote
from orders.quoting.links import quote_url
from orders.quoting.load_words import load_words, weighed_words


def mail_customer(quote: Quote, template: str, subject: str, **more: Any) -> None:
    """Mail everybody of the customer who can sign in, with the signed link."""
    people = User.objects.filter(
        company=quote.company_id, is_active=True, groups__name=Role.CUSTOMER.value
    )
    _mail(quote, template, subject, people, page_url=quote_url(quote), **more)


def mail_author(quote: Quote, template: str, subject: str, **more: Any) -> None:
    """Mail the rep who wrote the quote."""
    people = User.objects.filter(pk=quote.created_by_id, is_active=True)
    _mail(quote, template, subject, people, page_url=_staff_url(quote), **more)


def mail_office(quote: Quote, template: str, subject: str, **more: Any) -> None:
    """Mail everybody of the office."""
    people = User.objects.filter(is_active=True, groups__name=Role.OFFICE.value)
    _mail(quote, template, subject, people, page_url=_staff_url(quote), **more)


def _staff_url(quote: Quote) -> str:
    return settings.SITE_URL + reverse("quote_detail", args=[quote.number])


def _mail(
    quote: Quote, template: str, subject: str, people: QuerySet[User], **context: Any
) -> None:
    recipients = sorted(set(people.values_list("email", flat=True)))
    if not recipients:
        return
    lines = list(quote.lines.select_related("revision__blend", "package"))
    loads = [line.price_breakdown.load for line in lines]
    context |= {
        "loads": [load_words(load, house()) for load in loads if load],
        "weighed": dict.fromkeys(weighed_words(load, house()) for load in loads if load),
    }
    with read_in(house()):  # several people read it, whoever sends it
        text = render_to_string(template, {"quote": quote, "lines": lines, **context})
    send = partial(
        send_mail,
        subject.format(number=quote.number),
        text,
        settings.DEFAULT_FROM_EMAIL,
        recipients,
    )
    # robust: an unreachable mail server must not turn a sent quote into an error page.
    transaction.on_commit(send, robust=True)
