"""The signed link: read and answered without a login, by nobody who forges it."""

import re
import threading
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orders.models import Order, Paper, Quote
from orders.quoting.links import quote_token, quote_url
from tests.factories import today

pytestmark = pytest.mark.django_db
BUTTON = 'value="accept"'


def link(quote, name="quote_public"):
    return reverse(name, args=[quote_token(quote)])


def test_anybody_with_the_link_reads_the_quote_and_its_paper(client, sent):
    page = client.get(link(sent))
    assert page.status_code == 200
    assert sent.number in page.content.decode()
    assert f"Accept ${sent.total:,.2f}" in page.content.decode()
    assert "no-store" in page.headers["Cache-Control"]
    pdf = client.get(link(sent, "quote_public_pdf"))
    assert pdf.content == bytes(Paper.objects.get(quote=sent).pdf)


def test_the_paper_prints_the_same_link_that_was_mailed(sent):
    assert Paper.objects.get(quote=sent).snapshot["accept_url"] == quote_url(sent)


def test_accepting_by_link_needs_a_name_and_makes_one_order(client, sent):
    nameless = client.post(link(sent), {"decision": "accept", "name": " "})
    assert nameless.status_code == 400
    assert not Order.objects.exists()
    answer = {"decision": "accept", "name": "Casey Owner", "agreed": "on"}
    first = client.post(link(sent), answer, follow=True)
    again = client.post(link(sent), answer, follow=True)
    order = Order.objects.get()
    for page in (first, again):
        assert order.number in page.content.decode()
    sent.refresh_from_db()
    assert (sent.status, sent.decided_by_name) == ("accepted", "Casey Owner")
    assert sent.events.filter(to_status="accepted").get().who == "Casey Owner (by the signed link)"


def test_accepting_asks_once_and_says_what_happens_next(client, sent):
    asked = client.post(link(sent), {"decision": "accept", "name": "Casey Owner"})
    assert not Order.objects.exists()
    page = " ".join(asked.content.decode().split())
    assert f"Accept ${sent.total:,.2f} from Test Plant?" in page
    assert "What happens next" in page
    # Without a script: the page's own form, as a browser sends it.
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.split("<main")[1]))
    del fields["csrfmiddlewaretoken"]
    client.post(link(sent), fields)
    assert Order.objects.get().quote == sent


def test_declining_by_link_keeps_the_reason(client, sent):
    client.post(link(sent), {"decision": "decline", "name": "Casey", "why": "Too late for us."})
    sent.refresh_from_db()
    assert (sent.status, sent.decision_note) == ("declined", "Too late for us.")
    page = client.get(link(sent)).content.decode()
    assert f"{sent.number} was declined by Casey." in page
    assert BUTTON not in page


@pytest.mark.parametrize("name", ["quote_public", "quote_public_pdf"])
@pytest.mark.parametrize("forge", [lambda t: t[:-1] + "x", lambda t: "Q-2026-0001", lambda t: "x"])
def test_a_forged_link_does_not_exist(client, sent, name, forge):
    forged = forge(quote_token(sent))
    assert client.get(reverse(name, args=[forged])).status_code == 404


def test_another_number_under_the_same_signature_does_not_exist(client, sent, rep):
    token = quote_token(sent).replace(sent.number, sent.number[:-1] + "9")
    assert (
        client.post(
            reverse("quote_public", args=[token]), {"decision": "accept", "name": "X"}
        ).status_code
        == 404
    )
    assert not Order.objects.exists()


@pytest.mark.parametrize("name", ["quote_public", "quote_public_pdf"])
def test_a_link_to_a_draft_does_not_exist(client, draft, name):
    assert client.get(link(draft, name)).status_code == 404


@pytest.mark.parametrize("name", ["quote_public", "quote_public_pdf"])
def test_an_old_link_says_that_it_has_expired(client, sent, settings, name):
    long_ago = timezone.now() - timedelta(days=settings.QUOTE_LINK_DAYS, minutes=1)
    Quote.objects.filter(pk=sent.pk).update(sent_at=long_ago)
    sent.refresh_from_db()
    page = client.get(link(sent, name))
    assert page.status_code == 410
    assert "This link has expired" in page.content.decode()


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ({"valid_until": today() - timedelta(days=1)}, "was valid until"),
        ({"status": "expired"}, "was valid until"),
        ({"status": "void"}, "was withdrawn"),
    ],
)
def test_a_closed_quote_says_so_and_takes_no_answer(client, sent, columns, sentence):
    Quote.objects.filter(pk=sent.pk).update(**columns)
    page = client.get(link(sent))
    assert sentence in page.content.decode()
    assert BUTTON not in page.content.decode()
    answer = client.post(link(sent), {"decision": "accept", "name": "Casey", "agreed": "on"})
    assert answer.status_code == 409
    assert sentence in answer.content.decode()
    assert not Order.objects.exists()


def test_an_answer_from_another_site_is_refused(sent):
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post(link(sent), {"decision": "accept", "name": "Casey"})
    assert answer.status_code == 403
    assert not Order.objects.exists()


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "postgresql", reason="needs two real connections")
def test_two_clicks_at_the_same_moment_make_one_order(sent):
    start, answers = threading.Barrier(2), []

    def click():
        try:
            start.wait(timeout=10)
            agreed = {"decision": "accept", "name": "Casey", "agreed": "on"}
            answer = Client().post(link(sent), agreed)
            answers.append(answer.status_code)
        finally:
            connection.close()

    threads = [threading.Thread(target=click) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [302, 302]
    assert Order.objects.count() == 1
    assert sent.events.filter(to_status="accepted").count() == 1
