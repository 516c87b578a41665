"""A quote for who reads Spanish and metric: page, paper and English print say the same."""

import io
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from babel.dates import format_date
from django.core import mail
from django.urls import reverse
from django.utils import translation
from django.utils.html import conditional_escape
from pypdf import PdfReader

from blendshop.figures.readers import reader
from blendshop.languages.choice import Choice, written_in
from blendshop.outbox.actions import deliver_overdue
from orders.models import Package, PlantProfile, PriceTier
from orders.portal.stored_papers import differences
from orders.pricing import PackageKind
from orders.quoting.actions.paper import issue_quote_paper
from orders.quoting.actions.quotes import draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_url
from orders.quoting.quote_words import quote_words
from orders.quoting.view_models import QuoteView
from orders.records.written import ENGLISH, Written

pytestmark = pytest.mark.django_db
#: NIST SP 811 (2008), appendix B: kg in a pound, L in a US gallon, hundreds of m² in 1,000 sq ft.
KG, L, HUNDRED_M2 = 0.45359237, 3.785411784, 0.3048**2 * 1000 / 100
FIGURES = {
    "money": r"\$[\d,]+\.\d+",
    "litres": r"[\d,]+(?:\.\d+)? L\b",
    "kilograms": r"[\d,]+(?:\.\d+)? kg\b",
    "percent": r"\d+(?:\.\d+)?%",
    "days": r"\d{1,2} de [a-z]+ de \d{4}",
}


@pytest.fixture
def sent(world, rep, customer):
    """Two totes on deposit for a company that reads Spanish and measures in metric."""
    company = world["company"]
    company.language, company.units = "es", "metric"
    company.save()
    PlantProfile.objects.update(payment_terms="net 30 days", phone="555-0100")
    tote = Package.objects.get()
    tote.kind, tote.deposit = PackageKind.TOTE_DEPOSIT, Decimal(250)
    tote.save()
    PriceTier.objects.update(floor_pct=0)
    lines = [
        DraftLine(revision=world["revision"], package=tote, quantity=2, n_rate_lb_per_1000sqft=0.7)
    ]
    quote = draft_quote(
        acting_user=rep, company=company, ship_to=world["ship_to"], lines=lines, validity_days=30
    )
    send_quote(quote=quote, acting_user=rep)
    return quote


def words_of(pdf):
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split()
    )


def found(pattern, text):
    return set(re.findall(pattern, text))


def numbers(pattern, text):
    return sorted({float(each.replace(",", "")) for each in re.findall(pattern, text)})


def test_the_spanish_paper_says_what_page_and_english_print_say(sent, client, customer):
    spanish = words_of(bytes(sent.papers.get().pdf))
    client.force_login(customer)
    html = client.get(reverse("quote_detail", args=[sent.number])).content.decode()
    page = " ".join(
        re.sub(r"<[^>]+>", " ", re.search(r"<main.*?</main>", html, re.DOTALL)[0]).split()
    )
    for what, pattern in FIGURES.items():
        assert found(pattern, spanish), what
        assert found(pattern, page) == found(pattern, spanish), what
    answer = client.get(reverse("quote_pdf", args=[sent.number]), {"lang": "en"})
    english = words_of(answer.content)
    assert not found(r"\d (?:kg|L)\b", english)
    assert found(FIGURES["percent"], english) == found(FIGURES["percent"], spanish)
    for words in ("To accept", "Scan to", "CAUTION", "The analysis is"):
        assert words in english, words
        assert words not in spanish, words
    # Amounts to the cent are no matter of units; those of a unit have four places in metric.
    cents = r"\$[\d,]+\.\d{2}(?!\d)"
    assert f"${sent.total:,.2f}" in found(cents, spanish) & found(cents, english)
    totals = {f"${amount:,.2f}" for amount in (sent.total, sent.deposit_total)}
    assert totals <= found(cents, spanish)
    assert numbers(r"([\d,]+(?:\.\d+)?) L\b", spanish) == pytest.approx(
        [gal * L for gal in numbers(r"([\d,]+(?:\.\d+)?) gal\b", english)], abs=0.5
    )
    assert numbers(r"(?<![\d.,])([\d,]+) kg\b", spanish) == pytest.approx(
        [lb * KG for lb in numbers(r"(?<![\d.,])([\d,]+) lb\b(?! N)", english)], abs=0.5 * (1 + KG)
    )
    (line,) = QuoteView.from_json(sent.papers.get().snapshot).lines
    for price, factor in (
        (line.price_per_gal, L),
        (line.price_per_lb_n, KG),
        (line.price_per_1000sqft, HUNDRED_M2),
    ):
        written = f"${round(float(price) / factor, 4):,.4f}"
        assert written in spanish
        assert float(written[1:]) * factor == pytest.approx(float(price), abs=5e-5 * factor)
    for day in (sent.valid_until, sent.due_on):
        assert format_date(day, "long", locale="es_US") in spanish
        assert format_date(day, "long", locale="en_US") in english


def test_a_paper_stays_in_the_language_it_was_issued_in(sent, rep):
    paper = sent.papers.get()
    view = QuoteView.from_json(paper.snapshot)
    assert view.written == Written("es", "metric")
    assert view.in_english.written == ENGLISH
    english = replace(view.in_english, notes="By the gate.")
    view = replace(view, notes="Por la puerta.", in_english=english)
    sent.company.language = sent.company.units = ""
    sent.company.save()
    sent.refresh_from_db()
    assert issue_quote_paper(quote=sent, acting_user=rep) == paper
    with translation.override("es"):
        assert differences(paper) == []
        assert quote_words(view, reader()).notes == "Por la puerta."
    with translation.override("en"):
        assert quote_words(view, reader()).notes == "By the gate."


def test_a_stranger_with_the_link_gets_the_english_print_beside_the_paper(sent, client):
    address = f"{quote_url(sent).removeprefix('http://testserver').partition('?')[0]}pdf/"
    address = re.sub(r"^https?://[^/]+", "", address)
    stored = bytes(sent.papers.get().pdf)
    assert client.get(address).content == stored
    answer = client.get(address, {"lang": "en"})
    assert answer.content != stored
    assert " gal " in words_of(answer.content)


def test_the_house_s_own_paper_has_no_second_print(world, draft, rep, client):
    send_quote(quote=draft, acting_user=rep)
    paper = draft.papers.get()
    assert "written" not in paper.snapshot
    assert "in_english" not in paper.snapshot
    client.force_login(rep)
    answer = client.get(reverse("quote_pdf", args=[draft.number]), {"lang": "en"})
    assert answer.content == bytes(paper.pdf)


def test_a_quote_issued_in_english_keeps_its_cautions_for_who_reads_spanish(
    world, draft, rep, client, customer
):
    send_quote(quote=draft, acting_user=rep)
    paper = draft.papers.get()
    view = QuoteView.from_json(paper.snapshot)
    told = QuoteView.from_json(paper.snapshot).in_spanish
    assert (view.language, told.written) == ("en", Written("es", "us"))
    english = [each.message for each in view.cautions]
    spanish = [each.message for each in told.cautions]
    assert len(spanish) == len(english) > 0
    assert not set(spanish) & set(english)
    assert told.total == view.total
    customer.language = "es"
    customer.save()
    client.force_login(customer)
    page = client.get(reverse("quote_detail", args=[draft.number])).content.decode()
    assert "se emitió en inglés" in page
    for caution in spanish:
        assert conditional_escape(caution) in page
    for caution in english:
        assert conditional_escape(caution) not in page
    # Nothing is reissued, and a paper of before, without its Spanish, stays as it was.
    assert issue_quote_paper(quote=draft, acting_user=rep) == paper
    with written_in(Choice("es", "us")):
        old = quote_words(replace(view, in_spanish=None), reader())
    assert old.cautions == tuple(english)
    assert "quedó en inglés" in old.issued_in


def test_the_mail_with_the_paper_says_the_same_in_the_same_language(sent):
    deliver_overdue.call()
    (letter,) = mail.outbox
    text, paper = " ".join(letter.body.split()), bytes(sent.papers.get().pdf)
    assert letter.attachments == [(f"{sent.number}.pdf", paper, "application/pdf")]
    for what, pattern in FIGURES.items():
        assert found(pattern, text) == found(pattern, words_of(paper)), what
