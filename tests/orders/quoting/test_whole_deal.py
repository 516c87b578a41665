"""A deal over all lines of a quote, from the sheet to the order; each place says the same."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from orders.models import Package, PriceTier, Quote, QuoteLine, QuoteMargin
from orders.pricing import StepCode
from orders.quoting.actions import quotes as actions
from orders.quoting.actions.versions import copy_quote, draft_next_version
from orders.quoting.choices import choices_of
from orders.quoting.deals import QuoteDeal, deal_of_quote
from orders.quoting.draft_prices import DraftLine
from orders.reordering.wording import parts_per_gal
from orders.repricing.actions import reprice_here
from tests.factories import ShipToFactory
from tests.orders.quoting.test_quote_pages import sheet, text_of

pytestmark = pytest.mark.django_db
D = Decimal
Kind = Quote.Deal


def drafted(world, deal, quantities=(3, 1), *, alternatives=()):
    """A line of totes for each quantity; those at ``alternatives`` are to choose from."""
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=Package.objects.get(),
                quantity=quantity,
                alternative=at in alternatives,
            )
            for at, quantity in enumerate(quantities)
        ],
        validity_days=30,
        deal=deal,
    )


def goods(quote):
    return [line.line_total for line in quote.lines.all()]


def test_an_asked_price_is_met_to_the_cent_and_kept_to_the_order(world, rep, stranger):
    PriceTier.objects.update(floor_pct=0)
    usual = sum(goods(drafted(world, None)))
    quote = drafted(world, QuoteDeal(Kind.PRICE, D("2200.01")))
    assert sum(goods(quote)) == quote.total - quote.deposit_total == D("2200.01")
    assert usual > D("2200.01")
    assert actions.reprice_draft(quote=quote, acting_user=rep) == 0
    actions.send_quote(quote=quote, acting_user=rep)
    reprice_here()
    margin = QuoteMargin.objects.get(quote=quote)
    earned = sum(line.price_breakdown.earned for line in quote.lines.all())
    assert margin.margin_then == margin.margin_now == earned
    again = draft_next_version(quote=quote, acting_user=rep)
    assert (deal_of_quote(again), goods(again)) == (deal_of_quote(quote), goods(quote))
    revision = world["revision"]
    revision.blend.company = None
    revision.blend.save()
    ShipToFactory(company=stranger.company)
    other = copy_quote(quote=quote, company=stranger.company, acting_user=rep)
    assert (deal_of_quote(other), sum(goods(other))) == (None, usual)
    order = actions.accept_quote(quote=quote, acting_user=None, name="Casey")
    assert order.total == quote.total


def test_a_discount_is_the_same_percentage_of_every_choice_and_stays_given(world, rep):
    PriceTier.objects.update(floor_pct=0)
    plain = drafted(world, None, (2, 3, 1), alternatives=(0, 1))
    before = {choice.number: choice.total - choice.deposit_total for choice in choices_of(plain)}
    quote = drafted(world, QuoteDeal(Kind.OFF_PCT, D("6.5")), (2, 3, 1), alternatives=(0, 1))
    for choice in choices_of(quote):
        price = before[choice.number]
        assert abs(choice.total - choice.deposit_total - price * D("0.935")) <= D("0.01")
    amount = QuoteDeal(Kind.OFF_AMOUNT, D("100.00"))
    least = drafted(world, amount, (2, 3, 1), alternatives=(0, 1))
    assert least.total == plain.total - 100
    actions.send_quote(quote=quote, acting_user=rep)
    reprice_here()
    held = QuoteMargin.objects.get(quote=quote)
    for line in held.then_and_now.lines:
        assert [step.now for step in line.steps] == [step.then for step in line.steps]
        assert any(step.code == StepCode.QUOTE_DISCOUNT and step.now < 0 for step in line.steps)
    order = actions.accept_quote(quote=quote, acting_user=None, name="Casey", choice=1)
    line = order.lines.first()
    off = line.price_breakdown.amount(StepCode.QUOTE_DISCOUNT)
    told = parts_per_gal(line.price_breakdown)["the discount given then"]
    assert told == off / line.price_breakdown.volume_gal


def test_below_a_lines_floor_the_office_is_told_why_and_of_what(world, rep, office, client):
    quote = drafted(world, QuoteDeal(Kind.OFF_PCT, D(60)), alternatives=(0, 1))
    assert quote.needs_approval
    with pytest.raises(BadInput, match="why the price is to go below the floor"):
        actions.submit_quote(quote=quote, acting_user=rep)
    actions.submit_quote(quote=quote, acting_user=rep, why="A season in one order.")
    client.force_login(office)
    page = text_of(client.get(reverse("quote_detail", args=[quote.number])))
    assert "Negotiated by the rep: 60 % off all lines together." in page
    assert "the others change by the same percentage" in page
    assert page.count("below the floor of") >= 2


def test_the_sheet_says_what_it_takes_and_makes_a_discount_of_it(world, rep, client):
    client.force_login(rep)
    new = reverse("quote_new")
    asked = {"deal": Kind.PRICE.value, "deal_figure": "1000.01", "line-0-quantity": "2"}
    page = client.post(new, sheet(world, **asked, do="preview")).content.decode()
    given = re.search(r'value="as-discount-([\d.]+)"', page)[1]
    assert f"$1,000.01 instead of ${D(given) + D('1000.01'):,.2f}" in page
    form = client.post(new, sheet(world, **asked, do=f"as-discount-{given}")).content.decode()
    assert f'<option value="{Kind.OFF_AMOUNT.value}" selected>' in form
    as_discount = {"deal": Kind.OFF_AMOUNT.value, "deal_figure": given}
    assert f'name="deal_figure" value="{given}"' in form
    for typed in (as_discount, {}):
        client.post(new, sheet(world, **asked | typed, do="save"))
    by_discount, by_price = QuoteLine.objects.order_by("quote_id")
    assert by_discount.line_total == by_price.line_total == D("1000.01")
    assert by_discount.price_breakdown.earned == by_price.price_breakdown.earned
    edit = client.get(reverse("quote_edit", args=[by_price.quote.number])).content.decode()
    assert 'name="deal_figure" value="1000.01"' in edit
    for wrong, told in (
        ({"deal_figure": ""}, "Say how much."),
        ({"deal": ""}, "Say what the figure is."),
        ({"deal": Kind.OFF_PCT.value, "deal_figure": "100"}, "Less than 100 percent."),
        ({"deal": Kind.OFF_AMOUNT.value, "deal_figure": "99999"}, "more off than the price"),
    ):
        assert told in text_of(client.post(new, sheet(world, **asked | wrong)))
    assert Quote.objects.count() == 2
