"""Plain-text mails about an order: those of its customer, posted, and what the house reads."""

from collections.abc import Sequence
from typing import Final

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from blendshop.accounts.models import User
from blendshop.languages.choice import by_choice, choice_for, choice_of, in_house_words, written_in
from blendshop.notices.mail import Letter
from blendshop.outbox.actions import post_mail
from blendshop.roles import Role
from orders.models import Order, PlantProfile
from orders.ordering.made_lines import made_lines
from orders.records.plant_words import payment_words
from orders.records.reply_address import rep_of_order, reply_address

#: The kind of record an order's mails are about.
ABOUT = "order"
CONFIRMED: Final = gettext_noop("Order {number} is confirmed")
#: Mails a person may do without, by their template: the column of the person that says so.
SWITCHES: Final = {
    "orders/ordering/mail/order_requested.txt": "mailed_orders",
    "orders/ordering/mail/order_confirmed.txt": "mailed_orders",
    "orders/ordering/mail/order_shipped.txt": "mailed_shipping",
}


def mail_order(
    order: Order, template: str, subject: str, *, acting_user: User | None = None, why: str = ""
) -> None:
    """Mail everybody of the customer who can sign in; nobody is mailed if the change fails.

    A person may switch off what ``SWITCHES`` names; anything else always comes. ``subject`` is
    marked by ``gettext_noop``: each reads it, and the text, in the own language and units.
    """
    people = User.objects.filter(
        company=order.company_id, is_active=True, groups__name=Role.CUSTOMER.value
    )
    if switch := SWITCHES.get(template):
        people = people.filter(**{switch: True})
    reply_to = reply_address(order.quote)
    _mail(order, template, subject, people, acting_user, why=why, reply_to=reply_to)


def mail_confirmation(
    order: Order, addresses: Sequence[str], *, page_url: str, acting_user: User | None
) -> None:
    """That it is ordered, for addresses without a login; ``page_url`` is a page they may open."""
    if not addresses:
        return
    with written_in(choice_for(order.company)):
        post_mail(
            to=list(addresses),
            subject=gettext(CONFIRMED).format(number=order.number),
            text=_text(order, "orders/ordering/mail/order_confirmed.txt", "", page_url=page_url),
            about=(ABOUT, order.number),
            caused_by=acting_user,
            reply_to=reply_address(order.quote),
        )


def house_letter(order: Order, template: str, subject: str, *, why: str = "") -> Letter:
    """What those of the plant read of what a customer did with its order."""
    subject = subject.format(number=order.number, company=order.company)
    with in_house_words():
        return Letter(subject, _text(order, template, why))


def _mail(
    order: Order,
    template: str,
    subject: str,
    people: QuerySet[User],
    acting_user: User | None,
    *,
    why: str,
    reply_to: str = "",
) -> None:
    readers = people.select_related("company").order_by("email").distinct()
    for choice, addresses in by_choice((each.email, choice_of(each)) for each in readers).items():
        with written_in(choice):
            post_mail(
                to=addresses,
                subject=gettext(subject).format(number=order.number, company=order.company),
                text=_text(order, template, why),
                about=(ABOUT, order.number),
                caused_by=acting_user,
                reply_to=reply_to,
            )


def _text(order: Order, template: str, why: str, *, page_url: str = "") -> str:
    quote, rep, plant = order.quote, rep_of_order(order), PlantProfile.load()
    contact = (rep.name, rep.phone, rep.email) if rep else (plant.phone, plant.email)
    return render_to_string(
        template,
        {
            "order": order,
            "lines": made_lines(order.lines.select_related("revision__blend", "package")),
            "page_url": page_url
            or settings.SITE_URL + reverse("order_detail", args=[order.number]),
            "why": why,
            "payment": payment_words(quote.agreed_payment_terms) if quote else "",
            "contact": ", ".join(part for part in (*contact, plant.name) if part),
        },
    )
