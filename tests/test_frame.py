"""The frame: sign-in, health, errors."""

from collections.abc import Callable

import pytest
from django.core.mail import EmailMessage
from django.test import Client

from blendshop.accounts.models import User
from blendshop.outbox.actions import deliver_overdue
from tests.factories import PASSWORD


def test_a_visitor_is_sent_to_sign_in() -> None:
    response = Client().get("/")
    assert response.status_code == 302
    assert response["Location"].startswith("/people/login/")


def test_people_sign_in_by_email_and_a_wrong_password_is_refused(rep: User) -> None:
    client = Client()
    refused = client.post("/people/login/", {"login": rep.email, "password": "wrong"})
    assert refused.status_code == 200
    assert "_auth_user_id" not in client.session
    accepted = client.post("/people/login/", {"login": rep.email.upper(), "password": PASSWORD})
    assert accepted.status_code == 302
    assert client.session["_auth_user_id"] == str(rep.pk)


@pytest.mark.parametrize("path", ["signup/", "email/", "password/set/", "confirm-email/"])
def test_nobody_signs_up_alone_or_changes_the_sign_in_address(
    signed_in: Callable[[User], Client], rep: User, path: str
) -> None:
    assert Client().get(f"/people/{path}").status_code == 404
    answer = signed_in(rep).post(f"/people/{path}", {"email": "x@x.example", "action_add": ""})
    assert answer.status_code == 404


def test_password_reset_sends_one_mail_with_a_working_link(
    rep: User, mailoutbox: list[EmailMessage]
) -> None:
    client = Client()
    client.post("/people/password/reset/", {"email": rep.email})
    assert mailoutbox == []
    deliver_overdue.call()
    assert [mail.to for mail in mailoutbox] == [[rep.email]]
    link = next(word for word in mailoutbox[0].body.split() if "/password/reset/key/" in word)
    page = client.get("/" + link.split("/", 3)[3], follow=True)
    assert "Choose a new password" in page.content.decode()
    path = page.redirect_chain[-1][0]
    new = "a-fresh-long-passphrase"
    client.post(path, {"password1": new, "password2": new})
    rep.refresh_from_db()
    assert rep.check_password(new)


@pytest.mark.parametrize("path", ["/nowhere/", "/blends/999999/"])
def test_what_is_not_there_is_a_404_with_a_way_back(
    signed_in: Callable[[User], Client], rep: User, path: str
) -> None:
    response = signed_in(rep).get(path)
    assert response.status_code == 404
