"""Several ways in one quote: the customer takes one, at exactly the price it was shown."""

import re
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.outbox.actions import deliver_overdue
from formulas.models import StockCost
from orders.models import Order, Package, Quote, QuoteMargin
from orders.planning.due_dates import read_due_dates
from orders.quoting.actions import quotes as actions
from orders.quoting.actions.versions import draft_next_version
from orders.quoting.choices import choices_of
from orders.quoting.draft_prices import DraftLine, draft_lines_of
from orders.quoting.links import quote_token
from orders.repricing.actions import reprice_here
from tests.factories import PackageFactory, today
from tests.orders.quoting.quote_cases import make_revision
from tests.orders.quoting.test_quote_pages import sheet, text_of

S = Quote.Status
LESS_NITROGEN = {"UAN": 40.0, "WATER": 60.0}


@pytest.fixture
def asked(world: dict[str, Any], company: Company, rep: User) -> list[DraftLine]:
    """Two totes of the half-and-half or of a weaker one, and in any case seven drums."""
    weaker = make_revision(company, rep, LESS_NITROGEN, name="Summer green")
    tote = Package.objects.get()
    drum = PackageFactory(code="drum", kind="drum", fill_gal=Decimal(55), deposit=Decimal(0))
    return [
        DraftLine(revision=world["revision"], package=tote, quantity=2, alternative=True),
        DraftLine(revision=world["revision"], package=drum, quantity=7),
        DraftLine(revision=weaker, package=tote, quantity=4, alternative=True),
    ]


def drafted(world, lines):
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=lines,
        validity_days=30,
    )


@pytest.fixture
def open_choice(world: dict[str, Any], asked: list[DraftLine], rep: User) -> Quote:
    """It, sent."""
    quote = drafted(world, asked)
    actions.send_quote(quote=quote, acting_user=rep)
    return quote


def by_itself(world, asked, place):
    """The same lines in a quote without a choice: the alternative at ``place`` and the drums."""
    taken = [line for at, line in enumerate(asked) if at == place or not line.alternative]
    plain = [
        DraftLine(revision=line.revision, package=line.package, quantity=line.quantity)
        for line in taken
    ]
    return drafted(world, plain)


def figures(lines):
    return sorted((str(line.revision_id), line.line_total, line.deposit) for line in lines)


def dollars(amount):
    return f"{amount:,.2f}"


def paper_text(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_each_choice_costs_what_it_costs_quoted_by_itself(world, asked, open_choice):
    """Freight and quantity breaks follow from what is taken together, so the drums differ too."""
    first, second = choices_of(open_choice)
    for choice, place in ((first, 0), (second, 2)):
        alone = by_itself(world, asked, place)
        assert (choice.total, choice.deposit_total) == (alone.total, alone.deposit_total)
        assert figures(choice.lines) == figures(alone.lines.all())
    drums = [
        next(line for line in choice.lines if line.in_every_choice) for choice in (first, second)
    ]
    assert drums[0].line_total != drums[1].line_total
    assert open_choice.total == min(first.total, second.total)


def test_the_order_takes_what_was_chosen_at_the_shown_price(open_choice):
    _, second = choices_of(open_choice)
    order = actions.accept_quote(quote=open_choice, acting_user=None, name="Casey", choice=2)
    quote = Quote.objects.get(pk=open_choice.pk)
    assert (order.total, order.deposit_total) == (second.total, second.deposit_total)
    assert (quote.total, quote.chosen) == (second.total, 2)
    lines = order.lines.order_by("position")
    assert [line.position for line in lines] == [1, 2]
    assert figures(lines) == figures(second.lines)
    assert quote.events.latest("pk").data == {"choice": 2, "total": str(second.total)}
    assert quote.decision_note == "Choice 2, Summer green."


@pytest.mark.parametrize("choice", [None, 0, 3])
def test_without_a_choice_it_is_not_accepted(open_choice, choice):
    with pytest.raises(BadInput, match="Say which of the 2 you take"):
        actions.accept_quote(quote=open_choice, acting_user=None, name="Casey", choice=choice)
    assert Quote.objects.get(pk=open_choice.pk).status == S.SENT
    assert not Order.objects.exists()


def test_whoever_chooses_otherwise_after_it_is_accepted_is_told(open_choice):
    order = actions.accept_quote(quote=open_choice, acting_user=None, name="Casey", choice=1)
    again = {"quote": open_choice, "acting_user": None, "name": "Sam"}
    assert actions.accept_quote(**again, choice=1) == order
    with pytest.raises(IllegalMove, match="accepted by Casey"):
        actions.accept_quote(**again, choice=2)


@pytest.mark.parametrize("marked", [1, 4])
def test_a_choice_is_between_two_or_three(world, asked, marked):
    lines = [asked[0]] * marked + [asked[1]]
    with pytest.raises(BadInput, match="two or three lines"):
        drafted(world, lines)


def test_below_the_floor_in_one_choice_the_office_is_asked(world, asked):
    cheap = DraftLine(
        revision=asked[2].revision,
        package=asked[2].package,
        quantity=4,
        alternative=True,
        margin_pct=Decimal(1),
    )
    quote = drafted(world, [asked[0], asked[1], cheap])
    assert quote.needs_approval
    assert quote.approval_reason.startswith("Choice 2: ")
    assert "Choice 1" not in quote.approval_reason


def test_a_draft_keeps_what_was_asked_through_pricing_anew_and_versions(world, asked, rep):
    quote = drafted(world, asked)
    actions.reprice_draft(quote=quote, acting_user=rep)

    def wanted(lines):
        return sorted((li.revision.pk, li.package.pk, li.quantity, li.alternative) for li in lines)

    assert wanted(draft_lines_of(list(quote.lines.all()))) == wanted(asked)
    actions.send_quote(quote=quote, acting_user=rep)
    version = draft_next_version(quote=quote, acting_user=rep)
    assert wanted(draft_lines_of(list(version.lines.all()))) == wanted(asked)
    assert version.choices == 2


def test_a_dearer_choice_that_moved_since_it_was_read_is_not_sent(world, asked, rep):
    quote = drafted(world, asked)
    first, second = (choice.total for choice in choices_of(quote))
    seen = {"seen_total": quote.total, "seen_choices": (first, second + 1)}
    with pytest.raises(ChangedMeanwhile, match="totals of"):
        actions.send_quote(quote=quote, acting_user=rep, **seen)
    seen["seen_choices"] = (first, second)
    actions.send_quote(quote=quote, acting_user=rep, **seen)
    assert quote.status == S.SENT


def test_page_paper_and_mail_name_the_total_of_each_choice(open_choice, client, customer, rep):
    mail.outbox.clear()
    again = draft_next_version(quote=open_choice, acting_user=rep)
    actions.send_quote(quote=again, acting_user=rep)
    deliver_overdue.call()
    (told,) = [each for each in mail.outbox if each.to == [customer.email]]
    page = text_of(client.get(reverse("quote_public", args=[quote_token(again)])))
    pdf = client.get(reverse("quote_public_pdf", args=[quote_token(again)]))
    paper = paper_text(b"".join(pdf.streaming_content) if pdf.streaming else pdf.content)
    for choice in choices_of(again):
        for text in (told.body, page, paper):
            assert f"Choice {choice.number}, {choice.alternative.revision.blend.name}" in text
            assert dollars(choice.total) in text
        for line in choice.lines:
            assert dollars(line.line_total) in told.body
            assert dollars(line.line_total) in paper


def test_by_the_link_the_choice_is_asked_for_and_taken(open_choice, client):
    address = reverse("quote_public", args=[quote_token(open_choice)])
    refused = client.post(address, {"decision": "accept", "name": "Casey"})
    assert refused.status_code == 400
    assert "Say which of the 2 you take." in text_of(refused)
    second = choices_of(open_choice)[1]
    answer = {"decision": "accept", "name": "Casey", "choice": "2"}
    asked = client.post(address, answer)
    assert f"Yes, accept ${dollars(second.total)}" in text_of(asked)
    assert 'name="choice" value="2"' in asked.content.decode()
    client.post(address, answer | {"agreed": "on"})
    order = Order.objects.get()
    assert order.total == second.total
    text = text_of(client.get(address))
    assert dollars(second.total) in text
    assert "Offered beside it: Choice 1, Spring green" in " ".join(text.split())


@pytest.mark.parametrize("who", ["customer", "rep"])
def test_customer_and_rep_choose_on_the_quotes_own_page(open_choice, signed_in, request, who):
    client = signed_in(request.getfixturevalue(who))
    page = client.get(reverse("quote_detail", args=[open_choice.number])).content.decode()
    assert re.findall(r'type="radio" name="choice" value="(\d)"', page) == ["1", "2"]
    answer = {"decision": "accept", "name": "Casey", "choice": "1", "agreed": "on"}
    client.post(reverse("quote_decide", args=[open_choice.number]), answer)
    assert Order.objects.get().total == choices_of(open_choice)[0].total


def test_declining_needs_no_choice(open_choice, client):
    address = reverse("quote_public", args=[quote_token(open_choice)])
    client.post(address, {"decision": "decline", "name": "Casey"})
    assert Quote.objects.get(pk=open_choice.pk).status == S.DECLINED


def test_the_list_says_from_until_it_is_chosen(open_choice, signed_in, rep):
    first, second = choices_of(open_choice)
    listed = reverse("quote_list")
    low, high = sorted((first, second), key=lambda choice: choice.total)
    assert f"from ${dollars(low.total)}" in text_of(signed_in(rep).get(listed))
    actions.accept_quote(quote=open_choice, acting_user=rep, name="Casey", choice=high.number)
    text = text_of(signed_in(rep).get(listed))
    assert dollars(high.total) in text
    assert "from" not in text


def test_a_sheet_marks_the_lines_to_choose_from(signed_in, rep, world):
    client = signed_in(rep)
    marked = {"line-0-alternative": "on", "line-1-alternative": "on"}
    posted = sheet(world, lines=2, **marked)
    shown = text_of(client.post(reverse("quote_new"), {**posted, "do": "preview"}))
    client.post(reverse("quote_new"), posted)
    quote = Quote.objects.get()
    assert quote.choices == 2
    assert [dollars(choice.total) in shown for choice in choices_of(quote)] == [True, True]
    again = client.get(reverse("quote_edit", args=[quote.number])).content.decode()
    assert len(re.findall(r'name="line-\d-alternative"[^>]*checked', again)) == 2


def test_open_quotes_show_the_choice_that_earns_least(world, asked, open_choice, rep):
    alone = [by_itself(world, asked, place) for place in (0, 2)]
    for quote in alone:
        actions.send_quote(quote=quote, acting_user=rep)
    cost = StockCost.objects.get(stock__code="UAN")
    StockCost.objects.create(
        stock=cost.stock, amount=cost.amount * 2, unit=cost.unit, effective_from=today()
    )
    reprice_here()
    margins = [QuoteMargin.objects.get(quote=quote).margin_pct_now for quote in alone]
    assert margins[0] != margins[1]
    assert QuoteMargin.objects.get(quote=open_choice).margin_pct_now == min(margins)


def test_the_date_holds_for_each_choice(open_choice):
    """Four totes and seven drums take longer than two and seven, or as long."""
    dates = read_due_dates(timezone.localdate())
    assert open_choice.due_on == max(
        dates.of_lines(list(choice.lines)).due_on for choice in choices_of(open_choice)
    )
