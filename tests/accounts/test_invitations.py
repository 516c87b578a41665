"""The link a new person chooses a password by: it works once, and not for ever."""

import re
from datetime import datetime, timedelta

import pytest
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.test import Client

from blendshop.accounts.links import password_link
from blendshop.accounts.models import SecurityEvent
from blendshop.outbox.actions import deliver_overdue
from orders.customers.actions import add_person

CHOSEN = "meadow-and-clover-42"
#: A part of the page of whoever has just been signed in.
SIGNED_IN = "Sign out"


@pytest.fixture
def invited(rep, company):
    person = add_person(
        acting_user=rep, company=company, name="Nora New", email="nora@brookmeadow.example"
    )
    deliver_overdue.call()
    return person


def choose(link):
    """Follow the link and choose a password; the last page."""
    client = Client()
    page = client.get("/" + link.split("/", 3)[3], follow=True)
    if "password1" not in page.content.decode():
        return page.content.decode()
    form = {"password1": CHOSEN, "password2": CHOSEN}
    return client.post(page.request["PATH_INFO"], form, follow=True).content.decode()


def test_the_mail_has_the_link_and_how_long_it_works(invited, mailoutbox):
    (mail,) = mailoutbox  # nobody else is told of a customer's new person
    assert "works once, and for 3 days" in mail.body
    assert SIGNED_IN in choose(re.search(r"http://\S+", mail.body)[0])
    invited.refresh_from_db()
    assert invited.check_password(CHOSEN)
    kinds = set(SecurityEvent.objects.filter(whom=invited).values_list("kind", flat=True))
    assert kinds == {"person_added", "password_set", "signed_in"}


def test_it_works_once(invited):
    link = password_link(invited)
    choose(link)
    assert "used or has expired" in choose(link)


@pytest.mark.parametrize(
    ("later", "answer"),
    [
        (timedelta(days=2, hours=23), SIGNED_IN),
        (timedelta(days=3, minutes=1), "used or has expired"),
    ],
)
def test_it_works_for_three_days(invited, monkeypatch, later, answer):
    link = password_link(invited)
    then = datetime.now() + later  # noqa: DTZ005 # Django counts in such
    monkeypatch.setattr(PasswordResetTokenGenerator, "_now", lambda _self: then)
    assert answer in choose(link)
    invited.refresh_from_db()
    assert invited.has_usable_password() is (answer == SIGNED_IN)
