"""The first way in: a link by mail where a new person chooses a password. It works once."""

from django.conf import settings
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from blendshop.accounts.links import password_link
from blendshop.accounts.mails import record_of
from blendshop.accounts.models import User
from blendshop.languages.choice import choice_of, written_in
from blendshop.outbox.actions import post_mail


def mail_invitation(person: User, acting_user: User, template: str, plant: str = "") -> None:
    """Mail the link with the words of ``template``, once the person is certain to be there.

    The template gets person, acting_user, plant, page_url and days, how long the link works.
    """
    context = {
        "person": person,
        "acting_user": acting_user,
        "plant": plant,
        "page_url": password_link(person),
        "days": settings.PASSWORD_RESET_TIMEOUT // (24 * 3600),
    }
    with written_in(choice_of(person)):
        text = render_to_string(template, context)
        subject = _("Your login at {plant}").format(plant=plant) if plant else _("Your login")
    post_mail(
        to=[person.email],
        subject=subject,
        text=text,
        about=record_of(person),
        caused_by=acting_user,
        has_secret=True,
    )
