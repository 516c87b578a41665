"""What a rep may agree on a quote, and what the customer adds when accepting."""

import io
from datetime import timedelta

import pytest
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


def test_the_customers_purchase_order_goes_to_the_order_and_its_mail(client, sent, customer):
    answer = {"decision": "accept", "name": "Casey", "agreed": "on", "reference": " PO 4711 "}
    client.post(reverse("quote_public", args=[quote_token(sent)]), answer)
    order = Order.objects.get()
    assert order.customer_reference == "PO 4711"
    assert "Your purchase order: PO 4711" in Mail.objects.get(about_key=order.number).text


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
