"""What a rep negotiates on a quote, from the sheet to the order, and who hears of it."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from blendshop.outbox.models import Mail
from orders.models import Package, PriceTier, Quote, QuoteLine, QuoteMargin, Tank
from orders.pricing import StepCode
from orders.quoting.actions import quotes as actions
from orders.quoting.actions.versions import copy_quote, draft_next_version
from orders.quoting.deals import Deal
from orders.quoting.draft_prices import DraftLine, draft_lines_of
from orders.reordering.wording import parts_per_gal
from orders.repricing.actions import reprice_here
from tests.factories import ShipToFactory
from tests.orders.quoting.test_quote_pages import sheet, text_of

pytestmark = pytest.mark.django_db
D = Decimal
Kind = QuoteLine.Deal


def negotiated(world, *deals, freight=None, **changes):
    """A draft with a line of two totes for each deal."""
    return actions.draft_quote(
        acting_user=world["rep"],
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(
                revision=world["revision"],
                package=Package.objects.get(),
                quantity=2,
                deal=deal,
                **changes,
            )
            for deal in deals
        ],
        validity_days=30,
        agreed_freight=freight,
    )


def test_what_was_agreed_is_in_the_money_of_the_order_and_priced_anew_it_stays(world, draft, rep):
    usual = draft.total
    PriceTier.objects.update(floor_pct=0)
    quote = negotiated(world, Deal(Kind.OFF_PER_GAL, D("0.10")), freight=D("40.00"))
    (line,) = quote.lines.all()
    price = line.price_breakdown
    assert price.amount(StepCode.DISCOUNT) == D("-53.00")  # 530 gal at 0.10
    assert price.amount(StepCode.FREIGHT) == D(40)
    assert quote.total < usual
    assert actions.reprice_draft(quote=quote, acting_user=rep) == 0
    assert draft_lines_of(list(quote.lines.all()))[0].deal == Deal(Kind.OFF_PER_GAL, D("0.1000"))
    actions.send_quote(quote=quote, acting_user=rep)
    order = actions.accept_quote(quote=quote, acting_user=None, name="Casey")
    assert (order.total, order.lines.get().line_total) == (quote.total, price.price_total)
    # A reorder goes by the tier again, and says that there was a discount.
    parts = parts_per_gal(order.lines.get().price_breakdown)
    assert parts["the discount given then"] == D("-0.10")


def test_an_open_quote_earns_what_is_left_after_what_was_given(world, rep):
    PriceTier.objects.update(floor_pct=0)
    quote = negotiated(world, Deal(Kind.OFF_PCT, D(5)), freight=D("40.00"))
    actions.send_quote(quote=quote, acting_user=rep)
    reprice_here()
    margin = QuoteMargin.objects.get(quote=quote)
    (held,) = margin.then_and_now.lines
    assert {step.code: step.then for step in held.steps} == {
        step.code: step.now for step in held.steps
    }
    earned = quote.lines.get().price_breakdown.earned
    assert margin.margin_then == margin.margin_now == earned


def test_the_next_version_keeps_what_was_agreed_and_a_copy_for_another_customer_does_not(
    world, rep, stranger
):
    quote = negotiated(world, Deal(Kind.PRICE_PER_GAL, D("3.50")), freight=D("40.00"))
    assert quote.lines.get().line_total == D("1855.00")  # 530 gal at 3.50, to the cent
    actions.send_quote(quote=quote, acting_user=rep)
    again = draft_next_version(quote=quote, acting_user=rep)
    assert (again.agreed_freight, again.total) == (D("40.00"), quote.total)
    revision = world["revision"]
    revision.blend.company = None
    revision.blend.save()
    ShipToFactory(company=stranger.company)
    other = copy_quote(quote=quote, company=stranger.company, acting_user=rep)
    assert other.agreed_freight is None
    (line,) = other.lines.all()
    assert (line.deal, line.deal_figure, line.margin_pct) == ("", None, None)


def test_below_the_floor_the_office_is_told_why_before_it_is_asked(world, rep, office, client):
    quote = negotiated(world, Deal(Kind.PRICE_LINE, D("700.00")))
    short = quote.lines.get().price_breakdown.below_floor
    assert short > 0
    assert f"${short:,.2f} short" in quote.approval_reason
    with pytest.raises(BadInput, match="why the price is to go below the floor"):
        actions.submit_quote(quote=quote, acting_user=rep)
    client.force_login(rep)
    page = text_of(client.get(reverse("quote_detail", args=[quote.number])))
    assert f"${short:,.2f} below the floor of" in page
    send = reverse("quote_send", args=[quote.number])
    silent = client.post(send, {"do": "send", "seen_total": quote.total})
    assert silent.status_code == 400
    assert "Tell the office why" in text_of(silent)
    client.post(send, {"do": "send", "seen_total": quote.total, "why": "Two more yards in May."})
    quote.refresh_from_db()
    assert quote.status == Quote.Status.AWAITING_APPROVAL
    assert "says: Two more yards in May." in Mail.objects.get().text
    client.force_login(office)
    page = text_of(client.get(reverse("quote_detail", args=[quote.number])))
    assert "Two more yards in May." in page


def test_agreed_freight_is_seen_as_such_by_the_office_and_not_where_it_is_picked_up(
    world, office, client
):
    quote = negotiated(world, None, freight=D("40.00"))
    client.force_login(office)
    page = text_of(client.get(reverse("quote_detail", args=[quote.number])))
    assert "Freight agreed by the rep: $40.00" in page
    assert "agreed by the rep instead of $" in page
    zone = world["ship_to"].zone
    zone.pick_up = True
    zone.save()
    with pytest.raises(BadInput, match="no freight to agree on"):
        negotiated(world, None, freight=D("40.00"))


def test_a_target_price_says_what_it_takes_and_becomes_the_discount_that_reaches_it(
    world, rep, client
):
    client.force_login(rep)
    new = reverse("quote_new")
    asked = {"line-0-deal": Kind.PRICE_LINE.value, "line-0-deal_figure": "1000.01"}
    asked |= {"line-0-quantity": "2"}
    page = client.post(new, sheet(world, **asked, do="preview")).content.decode()
    given = re.search(r'value="as-discount-0-([\d.]+)"', page)[1]
    assert f"${D(given):,.2f} given away" in page
    assert "above the floor of" in page or "below the floor of" in page
    form = client.post(new, sheet(world, **asked, do=f"as-discount-0-{given}")).content.decode()
    assert f'value="{given}"' in form
    assert f'<option value="{Kind.OFF_LINE.value}" selected>' in form
    as_discount = {"line-0-deal": Kind.OFF_LINE.value, "line-0-deal_figure": given}
    client.post(new, sheet(world, **asked | as_discount, do="save"))
    client.post(new, sheet(world, **asked, do="save"))
    by_discount, by_price = QuoteLine.objects.order_by("quote")
    assert by_discount.line_total == by_price.line_total == D("1000.01")
    assert by_discount.price_breakdown.earned == by_price.price_breakdown.earned


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"line-0-deal": "off_pct"}, "Say how much."),
        ({"line-0-deal_figure": "5"}, "Say what the figure is."),
        ({"line-0-deal": "off_pct", "line-0-deal_figure": "100"}, "Less than 100 percent."),
        (
            {
                "line-0-deal": "price_line",
                "line-0-deal_figure": "900",
                "line-0-margin_pct": "20",
            },
            "Give a margin or a price, not both.",
        ),
        ({"line-0-deal": "off_line", "line-0-deal_figure": "99999"}, "more off than the price"),
    ],
)
def test_half_a_deal_is_refused_at_its_field(world, rep, client, typed, told):
    client.force_login(rep)
    response = client.post(reverse("quote_new"), sheet(world, **typed))
    assert response.status_code == 400
    assert told in text_of(response)
    assert not Quote.objects.exists()


def test_a_quantity_beyond_a_month_of_all_tanks_is_asked_about_once(world, rep, client):
    Tank.objects.update(capacity_gal=1000, loads_a_day=2)  # 40,000 gal in 20 working days
    client.force_login(rep)
    new, asked = reverse("quote_new"), sheet(world, **{"line-0-quantity": "151"})
    assert client.post(new, sheet(world, **{"line-0-quantity": "150"})).status_code == 302
    response = client.post(new, asked)
    assert response.status_code == 409
    assert "40,015 gal, more than the 40,000 gal all tanks make in 20 working days" in text_of(
        response
    )
    meant = re.search(r'name="meant" value="([^"]+)"', response.content.decode())[1]
    assert client.post(new, {**asked, "line-0-quantity": "152", "meant": meant}).status_code == 409
    saved = client.post(new, {**asked, "meant": meant})
    assert saved.status_code == 302
    # Changed otherwise, the same quantity is not asked about again.
    number = Quote.objects.latest("pk").number
    edited = client.post(reverse("quote_edit", args=[number]), {**asked, "notes": "By May."})
    assert edited.status_code == 302


def test_millions_of_gallons_are_said_as_millions(world, rep, client):
    client.force_login(rep)
    response = client.post(reverse("quote_new"), sheet(world, **{"line-0-quantity": "99999"}))
    assert "99,999 265 gal totes are 26.5 million gal" in text_of(response)


def test_the_same_press_twice_is_one_draft_and_another_press_another(world, rep, client):
    client.force_login(rep)
    new, sent = reverse("quote_new"), {**sheet(world), "once": "a1"}
    first, second = client.post(new, sent), client.post(new, sent)
    assert first.url == second.url
    (quote,) = Quote.objects.all()
    client.post(new, {**sent, "notes": "Another one."})
    assert Quote.objects.count() == 2
    change = {**sent, "notes": "Changed once.", "seen_event": quote.events.latest("pk").pk}
    edit = reverse("quote_edit", args=[quote.number])
    assert [client.post(edit, change).status_code for _ in range(2)] == [302, 302]
    assert quote.events.count() == 2


def test_a_margin_and_a_price_are_not_both_given(world):
    with pytest.raises(BadInput, match="not both"):
        negotiated(world, Deal(Kind.PRICE_LINE, D(900)), margin_pct=D(20))
    line = DraftLine(revision=world["revision"], package=Package.objects.get(), quantity=1)
    assert replace(line, deal=Deal(Kind.OFF_PCT, D(5))).deal.override is None
