"""What a rep may agree on a quote, and what the customer adds when accepting."""

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from blendshop.errors import BadInput
from blendshop.outbox.models import Mail
from orders.models import Order, Paper
from orders.quoting.actions.quotes import accept_quote, change_draft, send_quote
from orders.quoting.actions.versions import draft_next_version
from orders.quoting.draft_prices import draft_lines_of
from orders.quoting.links import quote_token
from orders.quoting.offered_date import earliest_date, offered_date
from tests.factories import today

pytestmark = pytest.mark.django_db


def asked_for(draft, rep, **terms):
    change_draft(
        quote=draft,
        acting_user=rep,
        company=draft.company,
        ship_to=draft.ship_to,
        lines=draft_lines_of(list(draft.lines.all())),
        validity_days=30,
        **terms,
    )


def test_a_later_wanted_day_is_the_due_date_from_quote_to_order(draft, rep):
    wanted = earliest_date(draft, today()) + timedelta(days=9)
    asked_for(draft, rep, wanted_on=wanted)
    assert offered_date(draft, today()).due_on == wanted
    send_quote(quote=draft, acting_user=rep)
    assert draft.due_on == wanted
    assert Paper.objects.get(quote=draft).snapshot["due_on"] == wanted.isoformat()
    assert accept_quote(quote=draft, acting_user=None, name="Casey").due_on == wanted


def test_a_day_too_soon_is_told_to_the_rep_and_never_promised(draft, rep, signed_in):
    earliest = earliest_date(draft, today())
    asked_for(draft, rep, wanted_on=earliest - timedelta(days=1))
    assert offered_date(draft, today()).due_on == earliest
    page = signed_in(rep).get(reverse("quote_detail", args=[draft.number])).content.decode()
    assert "too soon for the tanks" in page
    with pytest.raises(BadInput, match="is over"):
        asked_for(draft, rep, wanted_on=today() - timedelta(days=1))


def test_payment_of_a_quote_is_printed_and_kept_by_its_next_version(draft, rep):
    asked_for(draft, rep, payment_terms="half in advance")
    send_quote(quote=draft, acting_user=rep)
    assert Paper.objects.get(quote=draft).snapshot["payment"] == "half in advance"
    assert draft_next_version(quote=draft, acting_user=rep).payment_terms == "half in advance"


def test_what_a_customer_says_beside_the_answer_goes_to_order_mails_and_pages(
    client, sent, customer, rep, plant_worker
):
    """Number, day and note, as a reorder takes them; a day that is over is asked for again."""
    link = reverse("quote_public", args=[quote_token(sent)])
    asked = client.post(link, {"decision": "accept", "name": "Casey"}).content.decode()
    for name in ("reference", "wanted_on", "note"):
        assert f'name="{name}"' in asked
    wanted = sent.due_on + timedelta(days=9)
    answer = {
        "decision": "accept",
        "name": "Casey",
        "agreed": "on",
        "reference": " PO 4711 ",
        "note": "Gate 3, call first.",
    }
    signed = Client()
    signed.force_login(customer)
    for at, url in ((client, link), (signed, reverse("quote_decide", args=[sent.number]))):
        for day in (today() - timedelta(days=1), "soon"):
            refused = at.post(url, {**answer, "wanted_on": day})
            assert refused.status_code == 400
            html = refused.content.decode()
            assert "Gate 3, call first." in html
            assert 'aria-invalid="true"' in html
    assert not Order.objects.exists()
    client.post(link, {**answer, "wanted_on": wanted})
    order = Order.objects.get()
    said = (order.customer_reference, order.wanted_on, order.due_on, order.note)
    assert said == ("PO 4711", wanted, wanted, "Gate 3, call first.")
    of_customer = Mail.objects.get(about_key=order.number, to=customer.email).text
    of_rep = Mail.objects.get(to=rep.email, subject=f"Quote {sent.number} is accepted").text
    for text in (of_customer, of_rep):
        for words in ("PO 4711", "Gate 3, call first.", f"{wanted:%B} {wanted.day}, {wanted.year}"):
            assert words in text
    for person in (rep, plant_worker):
        signed.force_login(person)
        html = signed.get(reverse("order_detail", args=[order.number])).content.decode()
        assert "PO 4711" in html
        assert "Gate 3, call first." in html


def test_a_draft_is_looked_at_as_paper_and_mail_and_nothing_is_stored(draft, rep, signed_in):
    client = signed_in(rep)
    pdf = client.get(reverse("quote_draft_pdf", args=[draft.number])).content
    text = " ".join(PdfReader(io.BytesIO(pdf)).pages[0].extract_text().split())
    assert "DRAFT, not an offer" in text
    assert f"${draft.total:,.2f}" in text
    assert "/q/" not in text
    mail = client.get(reverse("quote_draft_mail", args=[draft.number])).content.decode()
    assert f"Total: ${draft.total:,.2f}" in mail
    assert "/q/" not in mail
    assert not Paper.objects.exists()
    assert not Mail.objects.exists()
    send_quote(quote=draft, acting_user=rep)
    assert client.get(reverse("quote_draft_pdf", args=[draft.number])).status_code == 409
