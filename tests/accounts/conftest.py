"""What tests of signing in share."""

from collections.abc import Callable
from time import time
from typing import Any

import pytest
from allauth.mfa.totp.internal.auth import TOTP, format_hotp_value, hotp_value
from django.core.cache import cache
from django.test import Client

from blendshop.accounts.models import User
from tests.factories import PASSWORD

#: A key as an app holds it; the usual example of base 32.
SECRET = "JBSWY3DPEHPK3PXP"


@pytest.fixture(autouse=True)
def counted_anew(db: None) -> None:
    """Limits count in the cache."""
    cache.clear()


def code_of(secret: str, steps_on: int = 0) -> str:
    """What the app shows now, or half minutes later."""
    return str(format_hotp_value(hotp_value(secret, int(time()) // 30 + steps_on)))


@pytest.fixture
def with_app() -> Callable[[User], User]:
    """``with_app(user)`` has set up an authenticator app that holds SECRET."""

    def set_up(user: User) -> User:
        TOTP.activate(user, SECRET)
        return user

    return set_up


def sign_in(user: User, password: str = PASSWORD, **extra: Any) -> tuple[Client, Any]:
    """A client after the sign-in form, and the form's answer."""
    client = Client()
    return client, client.post(
        "/people/login/", {"login": user.email, "password": password}, **extra
    )
