"""The office sees every mail that was given up, sends it again or sets it aside."""

import pytest
from django.core import mail as django_mail

from blendshop.outbox.actions import post_mail
from blendshop.outbox.models import Mail
from tests.jobs.queue_cases import run_due

pytestmark = pytest.mark.django_db

LINE = "1 mail was not delivered."


@pytest.fixture
def lost():
    """A mail of the security log, which no record's page shows."""
    (mail,) = post_mail(
        to=["gone@plant.example"], subject="Roles changed", text="T", about=("security", "7")
    )
    Mail.objects.update(state=Mail.State.DEAD, tries=8, last_error="550 no such person")
    mail.refresh_from_db()
    return mail


def page_of(client, url="/mails/"):
    return client.get(url).content.decode()


def test_the_office_is_told_where_it_begins_and_sends_again(lost, office, signed_in):
    client = signed_in(office)
    for begins in ("/quotes/", "/start/", "/people/security-log/"):
        assert LINE in page_of(client, begins)
    assert "550 no such person" in page_of(client)
    client.post(f"/mails/{lost.pk}/again/")
    assert run_due() == 2  # the try that was lost, and the new one
    assert [mail.to for mail in django_mail.outbox] == [["gone@plant.example"]]
    assert "Every mail has left." in page_of(client)
    assert LINE not in page_of(client, "/quotes/")


def test_what_need_not_go_out_is_set_aside_once(lost, office, signed_in):
    client = signed_in(office)
    assert client.post(f"/mails/{lost.pk}/set-aside/").status_code == 302
    assert "Every mail has left." in page_of(client)
    assert LINE not in page_of(client, "/quotes/")
    assert client.post(f"/mails/{lost.pk}/set-aside/").status_code == 409
    client.post(f"/mails/{lost.pk}/again/")
    lost.refresh_from_db()
    assert (lost.state, lost.set_aside_at) == (Mail.State.WAITING, None)


def test_a_mail_that_is_tried_again_says_when_and_one_that_is_sent_is_not_there(office, signed_in):
    post_mail(to=["a@plant.example", "b@plant.example"], subject="S", text="T", about=("x", "1"))
    Mail.objects.filter(to="a@plant.example").update(tries=1, last_error="busy")
    text = page_of(signed_in(office))
    assert "a@plant.example" in text
    assert "next try" in text
    assert "b@plant.example" not in text


def test_others_are_told_nothing(lost, rep, signed_in):
    assert LINE not in page_of(signed_in(rep), "/quotes/")
