"""A line of a draft whose stock does not reach: its price as stock allows, and the press for it."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import IllegalMove, NotAllowed
from blendshop.money import money
from formulas.blends.actions import save_blend
from formulas.blends.reviews import is_reviewed
from formulas.models import BaseStock
from orders.models import Package
from orders.quoting.actions.quotes import accept_quote, draft_quote, send_quote
from orders.quoting.actions.recipes import take_as_stock_allows
from orders.quoting.actions.versions import copy_quote
from orders.quoting.draft_prices import DraftLine
from orders.quoting.forms import offered_revisions
from orders.quoting.pages import line_views
from orders.reordering.sources import reorder_of_order
from tests.factories import today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.ordering.gate_cases import review
from tests.orders.quoting.test_quote_pages import text_of

pytestmark = pytest.mark.django_db
WISH = {"targets": [{"nutrient": "N", "min": 20}]}


@pytest.fixture
def short(world, rep, formulator):
    """A draft of two lines of one blend; of one of its stocks there is too little for both."""
    revision = save_blend(
        acting_user=rep, name="Scarce", company=world["company"], wish=WISH, today=today()
    )
    quote = draft_quote(
        acting_user=rep,
        company=world["company"],
        ship_to=world["ship_to"],
        lines=[
            DraftLine(revision=revision, package=Package.objects.get(), quantity=quantity)
            for quantity in (3, 1)
        ],
        validity_days=30,
    )
    taken = {row.code: row.lb for row in quote.lines.first().price_breakdown.material}
    for stock in BaseStock.objects.exclude(code="WATER"):
        times = Decimal("0.9") if stock.code == "UAN" else 20
        make_lot(stock, formulator, round(taken["UAN"] * times, 3))
    return quote


def test_the_price_as_stock_allows_is_the_price_after_one_press(short, rep, client):
    client.force_login(rep)
    line = short.lines.first()
    before = line.price_per_gal
    page = client.get(reverse("quote_detail", args=[short.number])).text
    part = reverse("quote_line_stock", args=[short.number, line.position])
    assert f'hx-get="{part}" hx-trigger="load"' in page
    told = client.get(part, headers={"HX-Request": "true"}).text
    said, more = map(
        Decimal, re.search(r"As stock allows: \$([\d.]+) per gal, \$([\d.]+) more", told).groups()
    )
    assert "<html" not in told
    assert "<html" in client.get(part).text  # without a script it is a page
    answer = client.post(part, follow=True)
    assert "Line 1 is now made as stock allows: revision 2" in text_of(answer)
    short.refresh_from_db()
    line = short.lines.first()
    assert money(line.price_per_gal) == said
    assert said - money(before) == more > 0
    assert (line.revision.number, line.revision.for_order_only) == (2, True)
    assert line.revision.blend.latest.number == 1  # the blend itself stays as it was
    assert line.revision.grade == line.revision.blend.latest.grade
    assert not any(view.is_short for view in line_views(short, today()))
    assert "as stock allows: revision 2" in short.events.latest("pk").why
    assert "As stock allows" not in client.get(part).text
    with pytest.raises(IllegalMove, match="covers line 1"):
        take_as_stock_allows(quote=short, position=1, acting_user=rep)


def test_where_no_such_blend_is_to_be_had_that_is_said(short, rep, client):
    BaseStock.objects.exclude(code__in=("UAN", "WATER")).update(retired_on=today())
    client.force_login(rep)
    part = reverse("quote_line_stock", args=[short.number, 1])
    told = client.get(part, headers={"HX-Request": "true"}).text
    assert "As stock allows: no such blend." in told
    assert "<button" not in told
    assert "Stock on hand allows no such blend." in text_of(client.post(part, follow=True))


def test_what_a_rep_takes_is_for_this_quote_only_and_a_formulator_looks_at_it(
    short, rep, customer, plant_worker, formulator, signed_in
):
    base = short.lines.get(position=1).revision
    review(base)
    for person in (customer, plant_worker, formulator):
        with pytest.raises(NotAllowed):
            take_as_stock_allows(quote=short, position=1, acting_user=person)
    assert base.blend.revisions.get() == base
    revision = take_as_stock_allows(quote=short, position=1, acting_user=rep)
    # Who, and for what, stands with it; the review of the other recipe does not count for it.
    assert (revision.created_by, revision.wish) == (rep, base.wish)
    assert f"for {short.number} only" in revision.note
    assert not is_reviewed(revision)
    # Nothing else is sold by it: not the other line, not the next quote, not the next order.
    assert short.lines.get(position=2).revision == base
    offered = offered_revisions(rep, short.company_id).filter(blend=base.blend)
    assert set(offered) == {base}
    copy = copy_quote(quote=short, company=short.company, acting_user=rep)
    assert {line.revision for line in copy.lines.all()} == {base}
    send_quote(quote=short, acting_user=rep)
    order = accept_quote(quote=short, acting_user=None, name="Casey")
    assert {line.wanted.revision for line in reorder_of_order(order).lines} == {base}
    page = text_of(signed_in(formulator).get(reverse("requests_waiting")))
    assert str(revision) in page
    assert order.number in page
    assert str(base) not in page
