"""Mails to the house about what a customer changed of itself."""

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.accounts.models import User
from blendshop.languages.choice import in_house_words
from blendshop.outbox.actions import post_mail
from orders.models import ShipTo
from orders.records.reply_address import house_of


@in_house_words()
def mail_place(ship_to: ShipTo, acting_user: User, *, is_new: bool) -> None:
    """Rep and office are told of an address, a new one with what is still to be set."""
    page = reverse("customer_ship_to", args=[ship_to.company_id, ship_to.pk])
    context = {"ship_to": ship_to, "person": acting_user, "is_new": is_new}
    people = house_of(ship_to.company).order_by("email")
    post_mail(
        to=people.values_list("email", flat=True).distinct(),
        subject=_("{company}: address {label}").format(
            company=ship_to.company, label=ship_to.label
        ),
        text=render_to_string(
            "orders/customers/mail/house_place.txt",
            {**context, "page_url": settings.SITE_URL + page},
        ),
        about=(OF_CUSTOMER, str(ship_to.company_id)),
        caused_by=acting_user,
        reply_to=acting_user.email,
    )
