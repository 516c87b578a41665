"""The blend page as a person uses it: what is typed, sent and shown."""

import re
from collections.abc import Callable
from typing import Any

from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from orders.blend_page.page_options import load_page_options
from orders.blend_page.page_wish import PageWish, wish_of
from orders.blend_page.wish_form import WishForm
from tests.factories import (
    today,
)

SignIn = Callable[[User], Client]
#: 24 % N, half of it slow, a little potash: can be made from the test catalogue.
WISH = {"N_min": "24", "slow_min": "50", "K2O_min": "2"}
#: The strongest stock of the catalogue holds 32 % N, so this cannot.
OUT_OF_REACH = {"N_min": "30", "slow_min": "50", "K2O_min": "2"}
HTMX = {"HX-Request": "true"}


def form_from(user: User, typed: dict[str, str]) -> WishForm:
    data = QueryDict(mutable=True)
    data.update(typed)
    return WishForm(data, options=load_page_options(user, today()))


def wish_from(user: User, typed: dict[str, str]) -> PageWish:
    form = form_from(user, typed)
    assert form.is_valid(), form.errors
    return wish_of(form)


def answer_text(client: Client, typed: dict[str, Any], **headers: str) -> str:
    response = client.post(reverse("blend_answer"), typed, headers=headers or HTMX)
    assert response.status_code == 200
    return response.content.decode()


def page_text(client: Client, typed: dict[str, Any]) -> str:
    response = client.post(reverse("blend_answer"), typed)
    assert response.status_code == 200
    return response.content.decode()


def shown_value(html: str, name: str) -> str:
    """The value an input shows."""
    tag = re.search(rf'<input[^>]*\bname="{name}"[^>]*>', html)
    assert tag, f"no field {name}"
    value = re.search(r'value="([^"]*)"', tag.group())
    return value.group(1) if value else ""
