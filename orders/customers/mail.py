"""The mail to whoever of a customer named a place: it is delivered to, or why not."""

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.mails import OF_CUSTOMER
from blendshop.accounts.models import User
from blendshop.languages.choice import choice_of, written_in
from blendshop.outbox.actions import post_mail
from orders.models import PlantProfile, ShipTo


def mail_place_answered(ship_to: ShipTo, acting_user: User, *, why: str = "") -> None:
    """With ``why`` it is not delivered to. Nobody is mailed who cannot sign in any more."""
    person = ship_to.named_by
    if person is None or not person.is_active:
        return
    with written_in(choice_of(person)):
        if why:
            subject = _("{label}: we cannot deliver there")
        else:
            subject = _("{label}: you can order to it now")
        context = {
            "ship_to": ship_to,
            "person": person,
            "plant": PlantProfile.load().name,
            "why": why,
            "page_url": settings.SITE_URL + reverse("own_places"),
        }
        post_mail(
            to=[person.email],
            subject=subject.format(label=ship_to.label),
            text=render_to_string("orders/customers/mail/place_answered.txt", context),
            about=(OF_CUSTOMER, str(ship_to.company_id)),
            caused_by=acting_user,
            reply_to=acting_user.email,
        )
