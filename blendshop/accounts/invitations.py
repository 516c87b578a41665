"""The first way in: a link by mail where a new person chooses a password. It works once."""

from functools import partial
from urllib.parse import quote as url_quote

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import User


def mail_invitation(person: User, acting_user: User, template: str) -> None:
    """Mail the link with the words of ``template``, once the person is certain to be there.

    The template gets person, acting_user, page_url and days, how long the link works.
    """
    text = render_to_string(
        template,
        {
            "person": person,
            "acting_user": acting_user,
            "page_url": first_password_url(person),
            "days": settings.PASSWORD_RESET_TIMEOUT // (24 * 3600),
        },
    )
    subject = _("Your login")
    send = partial(send_mail, subject, text, settings.DEFAULT_FROM_EMAIL, [person.email])
    transaction.on_commit(send, robust=True)


def first_password_url(person: User) -> str:
    """The address, signed for the password as it is: choosing one uses it up."""
    path = reverse("account_reset_password_from_key", kwargs={"uidb36": "UID", "key": "KEY"})
    key = default_token_generator.make_token(person)
    path = path.replace("UID-KEY", url_quote(f"{user_pk_to_url_str(person)}-{key}"))
    return settings.SITE_URL + path
