"""One offer on the page behind the link, on the customer's own page, on the PDF and in the mail."""

import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core import mail
from django.urls import reverse
from pypdf import PdfReader

from blendshop.outbox.actions import deliver_overdue
from blendshop.roles import Role
from formulas.answers.promised_grade import product_name
from formulas.models import CompatibilityRule
from orders.models import (
    CustomerTerms,
    FreightZone,
    Package,
    PlantProfile,
    PriceTier,
    Quote,
    QuoteLine,
)
from orders.pricing import PackageKind, StepCode
from orders.quoting.actions.quotes import accept_quote, draft_quote, send_quote
from orders.quoting.choices import choices_of
from orders.quoting.customer_cautions import blend_cautions
from orders.quoting.deals import Deal, QuoteDeal
from orders.quoting.draft_prices import DraftLine
from orders.quoting.links import quote_url
from tests.factories import CompatibilityRuleFactory, TraitFactory, UserFactory, today
from tests.orders.quoting.quote_cases import make_revision

pytestmark = pytest.mark.django_db
FIGURES = {
    "money": r"\$[\d,]+\.\d+",
    "gallons": r"[\d,]+(?:\.\d+)? gal\b",
    "pounds": r"[\d,]+(?:\.\d+)? lb\b",
    "percent": r"\d+(?:\.\d+)?%",
    "days": r"[A-Z][a-z]+ \d+, \d{4}",
}


@pytest.fixture
def offered(world, rep, customer):
    """Totes on deposit and a load in bulk of two blends, sent by a rep with a telephone."""
    rep.phone = "555-0123"
    rep.save()
    PlantProfile.objects.update(payment_terms="net 30 days", phone="555-0100")
    tote = Package.objects.get()
    tote.kind, tote.deposit, tote.price = PackageKind.TOTE_DEPOSIT, Decimal(250), Decimal(41)
    tote.save()
    bulk = Package.objects.create(
        code="bulk", name="bulk", plural_name="bulk", kind="bulk", fill_gal=Decimal(0)
    )
    bulk.refresh_from_db()
    PriceTier.objects.update(floor_pct=0)
    other = make_revision(world["company"], rep, name="Annapolis 16-0-0")
    quote = draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=tote,
                quantity=3,
                n_rate_lb_per_1000sqft=0.7,
                deal=Deal(QuoteLine.Deal.OFF_PER_GAL, Decimal("0.1000")),
            ),
            DraftLine(revision=other, package=bulk, quantity=321),
        ],
        validity_days=30,
        agreed_freight=Decimal("120.00"),
        deal=QuoteDeal(Quote.Deal.OFF_PCT, Decimal("2.5")),
        notes="By the back gate.",
    )
    send_quote(quote=quote, acting_user=rep)
    return quote


@pytest.fixture
def choice(world, rep, customer):
    """Three totes of one blend or four of another, sent to an address without a login too."""
    PlantProfile.objects.update(payment_terms="net 30 days", phone="555-0100")
    tote = Package.objects.get()
    tote.kind, tote.deposit = PackageKind.TOTE_DEPOSIT, Decimal(250)
    tote.save()
    other = make_revision(world["company"], rep, {"UAN": 40.0, "WATER": 60.0}, name="Summer green")
    quote = draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(revision=world["revision"], package=tote, quantity=3, alternative=True),
            DraftLine(revision=other, package=tote, quantity=4, alternative=True),
        ],
        validity_days=30,
        mailed_to=["yard@otterbend.example"],
    )
    send_quote(quote=quote, acting_user=rep)
    return quote


def readings(offered, client, customer):
    """What is read of the offer, by where: plain text without runs of spaces."""
    deliver_overdue.call()
    letter = mail.outbox[0]
    pages = PdfReader(io.BytesIO(bytes(offered.papers.get().pdf))).pages
    public = client.get(quote_url(offered)).content.decode()
    client.force_login(customer)
    own = client.get(reverse("quote_detail", args=[offered.number])).content.decode()
    texts = {
        "page": _text_of(public),
        "own page": _text_of(own),
        "paper": "\n".join(page.extract_text() for page in pages),
        "mail": letter.body,
    }
    return {where: " ".join(text.split()) for where, text in texts.items()}


def _text_of(html):
    main = re.search(r"<main.*?</main>", html, re.DOTALL)[0]
    return re.sub(r"<[^>]+>", " ", main).replace("&#x27;", "'")


@pytest.mark.parametrize("offer", ["offered", "choice"])
def test_every_figure_is_the_same_on_page_paper_and_mail(offer, client, customer, request):
    texts = readings(request.getfixturevalue(offer), client, customer)
    for what, pattern in FIGURES.items():
        found = {where: set(re.findall(pattern, text)) for where, text in texts.items()}
        assert len(found["mail"]) > 1, what
        for where, figures in found.items():
            assert figures == found["mail"], (what, where)


def test_each_choice_says_its_price_in_total_and_per_gallon_first(choice, client, customer):
    said = [
        f"Choice {number}: ${each.total:,.2f}, of which ${each.deposit_total:,.2f} is a refundable"
        f" deposit, ${each.alternative.price_per_gal:.4f} per gal"
        for number, each in enumerate(choices_of(choice), start=1)
    ]
    assert len(said) == 2
    for where, text in readings(choice, client, customer).items():
        for each in said:
            assert -1 < text.find(each) < 1200, (where, each)


def test_the_offer_is_said_first_with_who_answers_for_it(offered, client, customer, rep):
    quote = Quote.objects.get()
    deposit = f"${quote.deposit_total:,.2f}"
    shares = [line.price_breakdown.amount(StepCode.QUOTE_DISCOUNT) for line in quote.lines.all()]
    for where, text in readings(offered, client, customer).items():
        said = [
            "321 gal in bulk of Annapolis 16-0-0",
            f"${quote.total:,.2f}, of which {deposit} is a refundable deposit",
            f"after a discount of 2.50% on all of it, ${-sum(shares):,.2f}",
            "freight is included",
            "net 30 days",
            f"{rep.name}, 555-0123, {rep.email}",
        ]
        places = [text.find(each) for each in said]
        assert -1 not in places, (where, said[places.index(-1)])
        assert max(places) < 1500, where
        assert "Annapolis 16-0-0 16-0-0" not in text, where
        assert "321 ×" not in text, where
        assert re.search(r"Discount\s+-\$79\.50", text), where  # 795 gal at 0.10
        assert len(re.findall(r"Freight\s+\$\d", text)) == 2, where
        for share in shares:
            assert re.search(rf"discount on all of it\s+-\${-share:,.2f}", text), where
        # A package is paid in cents; only gallons, pounds and lawns have parts of one.
        assert not re.search(r"\.\d{3,} per package|Per package\s+\$[\d,]+\.\d{3,}", text), where
        assert "margin" not in text.lower(), where


def test_what_was_accepted_is_confirmed_in_the_figures_that_were_offered(choice, client, rep):
    """On the order, in both confirmations and on the page behind the link."""
    FreightZone.objects.update(pick_up=True)
    choice = Quote.objects.get(pk=choice.pk)
    wanted_on = today() + timedelta(days=120)
    order = accept_quote(
        quote=choice, acting_user=None, name="Ines", choice=2, reference="PO-1", wanted_on=wanted_on
    )
    (taken,) = choice.taken_lines()
    deliver_overdue.call()
    confirmed = {each.to[0]: each for each in mail.outbox if "is confirmed" in each.subject}
    assert len(confirmed) == 2
    for to, letter in confirmed.items():
        assert letter.reply_to == [rep.email]
        for said in (
            f"4 × {taken.package.plural_name} of Summer green",
            f"${taken.line_total:,.2f} (${taken.price_per_gal:.4f} per gal)",
            "Refundable deposit: $1,000.00",
            f"Total: ${choice.total:,.2f}",
            "at the plant; no freight in the price",
            "Payment: net 30 days.",
            "Your purchase order: PO-1",
            f"Due: {wanted_on:%A, %B} {wanted_on.day}, {wanted_on.year}",
            f"{rep.name}, {rep.email}, Test Plant",
        ):
            assert said in letter.body, (to, said)
        assert "Ship to" not in letter.body
    # Who has no login is led to the page behind the link, others to the order.
    assert "/q/" in confirmed.pop("yard@otterbend.example").body
    assert f"/orders/{order.number}/" in next(iter(confirmed.values())).body
    page = " ".join(_text_of(client.get(quote_url(choice)).text).split())
    assert f"Your order number is {order.number}. Due: {wanted_on:%A, %B} {wanted_on.day}" in page
    client.force_login(rep)
    page = _text_of(client.get(reverse("order_detail", args=[order.number])).text)
    for figure in (choice.total, choice.deposit_total, taken.line_total):
        assert f"${figure:,.2f}" in page


def test_the_mail_carries_the_paper_and_the_rep_reads_the_answer(offered, rep):
    deliver_overdue.call()
    (letter,) = mail.outbox
    paper = offered.papers.get()
    assert letter.reply_to == [rep.email]
    assert letter.attachments == [(f"{offered.number}.pdf", bytes(paper.pdf), "application/pdf")]


def test_the_plant_answers_for_a_rep_who_has_left(world, rep, draft, customer):
    PlantProfile.objects.update(email="office@plant.example")
    rep.is_active = False
    rep.save()
    send_quote(quote=draft, acting_user=UserFactory(role=Role.OFFICE))
    deliver_overdue.call()
    assert mail.outbox[0].reply_to == ["office@plant.example"]


def test_payment_is_the_quotes_own_then_the_customers_then_the_plants(world, draft):
    PlantProfile.objects.update(payment_terms="net 30 days")
    assert draft.agreed_payment_terms == "net 30 days"
    CustomerTerms.objects.create(
        company=world["company"], tier=PriceTier.objects.get(), payment_terms="net 60 days"
    )
    assert draft.agreed_payment_terms == "net 60 days"
    draft.payment_terms = "in advance"
    assert draft.agreed_payment_terms == "in advance"


def test_a_customer_is_told_what_not_to_mix_and_none_of_the_plants_doubts(world, client, rep):
    revision = world["revision"]
    stock = revision.lines.all()[0].stock
    phosphate, calcium = TraitFactory(code="phosphate"), TraitFactory(code="calcium")
    stock.traits.add(phosphate)
    CompatibilityRuleFactory(trait_a=calcium, trait_b=phosphate, effect="blocks")
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="humic"), trait_b=phosphate, effect="jar_test"
    )
    (told,) = blend_cautions(revision)
    assert "hold any of these: calcium." in told
    CompatibilityRule.objects.update(active=False)
    assert blend_cautions(revision) == ()


def test_the_grade_stands_once_in_a_name():
    assert product_name("Annapolis 24-0-3", "24-0-3") == "Annapolis 24-0-3"
    assert product_name("Annapolis", "24-0-3") == "Annapolis 24-0-3"
    assert product_name("Annapolis 124-0-3", "24-0-3") == "Annapolis 124-0-3 24-0-3"
    assert product_name("Annapolis", "") == "Annapolis"
    assert product_name("24-0-2, 50% slow", "24-0-2") == "24-0-2, 50% slow"
