"""A session that ends while a page is open: who goes on, and with what was typed."""

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.conf import settings
from django.test import Client, override_settings
from django.urls import reverse

from blendshop.accounts.models import User
from blendshop.accounts.typed import keep_typed, word_of
from tests.accounts.conftest import sign_in
from tests.factories import PASSWORD

TYPED = {"N_min": "24.25", "name": "Of the call", "K2O_min": "2"}
HTMX = {"HX-Request": "true"}


def came_back(client: Client, user: User, answer: Any) -> Any:
    """The page after signing in at the page that was answered."""
    login = {"login": user.email, "password": PASSWORD}
    return client.post(answer["Location"], login, follow=True)


def fields_of(page: Any) -> dict[str, str]:
    """What the form that goes on sends, without its token."""
    form = page.text[page.text.index("<main") :]
    found = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    del found["csrfmiddlewaretoken"]
    return {name: unescape(value) for name, value in found.items()}


def test_what_was_posted_after_the_session_had_ended_comes_back_after_sign_in(rep: User) -> None:
    client, sent = Client(), TYPED | {"typed_by": word_of(rep)}
    ended = client.post(reverse("blend_answer"), sent)
    assert ended.status_code == 302
    assert ended["Location"].startswith("/people/login/?next=/people/typed/")
    page = came_back(client, rep, ended)
    assert fields_of(page) == sent
    assert f'action="{reverse("blend_answer")}"' in page.text
    answer = client.post(reverse("blend_answer"), fields_of(page))
    for name, value in TYPED.items():
        assert f'name="{name}"' in answer.text
        assert f'value="{value}"' in answer.text


def test_nobody_else_is_given_what_was_typed(rep: User, formulator: User) -> None:
    client = Client()
    ended = client.post(reverse("blend_answer"), TYPED | {"typed_by": word_of(rep)})
    page = came_back(client, formulator, ended)
    assert page.status_code == 403
    assert TYPED["name"] not in page.text
    assert "24.25" not in page.text


@pytest.mark.parametrize("whose", ["", "1", "1:forged"])
def test_a_form_that_does_not_truly_say_whose_it_is_is_not_kept(
    rep: User, rf: Any, whose: str
) -> None:
    assert keep_typed(rf.post("/blend/answer/", TYPED | {"typed_by": whose})) is None
    ended = Client().post(reverse("blend_answer"), TYPED | {"typed_by": whose})
    assert ended["Location"] == f"/people/login/?next={reverse('blend_answer')}"


def test_no_password_is_kept_and_the_form_goes_nowhere_else(rep: User) -> None:
    client = Client()
    sent = {"typed_by": word_of(rep), "password": "secret", "new_password1": "secret", "a": "1"}
    ended = client.post(reverse("quote_new"), sent)
    page = came_back(client, rep, ended)
    assert fields_of(page) == {"typed_by": sent["typed_by"], "a": "1"}
    assert re.findall(r'action="([^"]*)"', page.text[page.text.index("<main") :]) == [
        reverse("quote_new")
    ]


def test_a_part_of_a_page_is_told_by_the_status(rep: User, signed_in: Callable[..., Any]) -> None:
    for asked in (reverse("blend_answer"), reverse("quote_new")):
        assert Client().post(asked, TYPED, headers=HTMX).status_code == 401
    assert signed_in(rep).post(reverse("blend_answer"), TYPED, headers=HTMX).status_code == 200


def test_a_form_of_before_another_sign_in_is_kept_and_sent_once_more(
    rep: User, formulator: User
) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(rep)
    sent = TYPED | {"typed_by": word_of(rep), "csrfmiddlewaretoken": "of-before"}
    refused = client.post(reverse("blend_answer"), sent)
    assert refused.status_code == 302
    assert fields_of(client.get(refused["Location"])) == TYPED | {"typed_by": word_of(rep)}
    client.force_login(formulator)
    assert client.get(refused["Location"]).status_code == 403
    assert client.post(reverse("blend_answer"), TYPED).status_code == 403  # says nobody


def test_who_is_there_counts_only_with_what_the_role_owes(
    rep: User, with_app: Callable[[User], User]
) -> None:
    who = reverse("signed_in_as")
    assert Client().get(who).json() == {"person": None, "csrf": ""}
    client, _ = sign_in(rep)
    found = client.get(who)
    assert found.json()["person"] == rep.pk
    assert found.json()["csrf"]
    assert "no-store" in found["Cache-Control"]
    with override_settings(SECOND_FACTOR_ROLES=["rep"]):
        assert client.get(who).json()["person"] is None
        half, _ = sign_in(with_app(rep))
        assert half.get(who).json()["person"] is None


def test_only_pages_of_signing_in_are_shown_within_a_page_and_only_of_this_site(
    rep: User, signed_in: Callable[..., Any]
) -> None:
    client = signed_in(rep)
    for page in (Client().get("/people/login/"), client.get(reverse("signed_in_again"))):
        assert page["X-Frame-Options"] == "SAMEORIGIN"
        assert "frame-ancestors 'self'" in page["Content-Security-Policy"]
    blend = client.get(reverse("blend_page"))
    assert blend["X-Frame-Options"] == settings.X_FRAME_OPTIONS == "DENY"
    assert "frame-ancestors 'none'" in blend["Content-Security-Policy"]
