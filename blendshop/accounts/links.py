"""The link with which a person chooses a password; good once, and for a few days."""

from urllib.parse import quote as url_quote

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.urls import reverse

from blendshop.accounts.models import User


def password_link(person: User) -> str:
    """The whole address. It is void once used, or after Django's PASSWORD_RESET_TIMEOUT."""
    path = reverse("account_reset_password_from_key", kwargs={"uidb36": "UID", "key": "KEY"})
    key = default_token_generator.make_token(person)
    filled = path.replace("UID-KEY", url_quote(f"{user_pk_to_url_str(person)}-{key}"))
    return f"{settings.SITE_URL}{filled}"
