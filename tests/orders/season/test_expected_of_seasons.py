"""What a season is for buying: planned, once reserved booked, once released an order."""

import csv
import io
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.buying.expected import Horizon
from orders.buying.planned_rounds import planned_rounds
from orders.buying.proposal import buying
from orders.models import ProgramRound, SeasonProgram
from orders.season.actions.reserving import give_back
from orders.season.page import season_page
from tests.factories import today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.season.conftest import YEAR
from tests.orders.season.test_reserving import released, reserved

APRIL = date(YEAR, 4, 1)


@pytest.fixture
def stock(revision, plant_worker):
    """The first stock of the recipe, with a lot, so that it is bought at all."""
    found = revision.lines.first().stock
    make_lot(found, plant_worker, 10)
    return found


def of_stock(stock, weeks=26):
    each = buying(APRIL, weeks).of_stock(stock.code)
    return each.least, each.planned, each.expected


def test_a_saved_season_is_expected_by_the_totes_of_its_page_and_no_booking(
    program, revision, stock
):
    page = season_page(program, APRIL, changes=False)
    rounds = planned_rounds(Horizon(APRIL, 26))
    assert [each.packages for each in rounds] == [each.packages for each in page.figures.rounds]
    assert [each.packages for each in rounds] == [2, 3, 1]
    least, planned, expected = of_stock(stock)
    # Six totes of 265 gal by the recipe.
    share = revision.lines.get(stock=stock).pct / 100
    assert float(planned) == pytest.approx(6 * 265 * revision.density_lb_per_gal * share, abs=0.01)
    assert (least, expected) == (0, planned)
    assert float(of_stock(stock, 13)[1]) == pytest.approx(float(planned) * 5 / 6, abs=0.01)


def test_a_round_whose_day_is_over_or_whose_property_is_left_out_is_not_expected(
    program, properties
):
    found = planned_rounds(Horizon(date(YEAR, 4, 21), 26))
    assert [(each.name, each.packages) for each in found] == [("Summer", 3), ("Fall", 1)]
    program.rounds.get(name="Summer").left_out.set(properties)
    found = planned_rounds(Horizon(date(YEAR, 4, 21), 26))
    assert [each.name for each in found] == ["Fall"]
    type(program.company).objects.update(active=False)
    assert planned_rounds(Horizon(APRIL, 26)) == []


def test_a_tote_weighs_the_same_reserved_released_and_bought_for(
    program, customer, revision, company, stock
):
    review(revision)
    agree_limits(company)
    before = of_stock(stock)[1]
    standing = reserved(program, customer)
    least, planned, expected = of_stock(stock)
    assert planned == 0
    assert least == expected
    # A plan weighs by the recipe; what is reserved by the load, which has room for weighing.
    assert float(least) == pytest.approx(float(before), rel=0.005)
    order = released(program, customer)
    weighs = standing.rounds.get(name="Spring").mass_lb
    assert order.lines.get().mass_lb == weighs
    page = season_page(SeasonProgram.objects.get(), APRIL, changes=False)
    assert sum(each.mass_lb for each in page.figures.rounds[1:]) == pytest.approx(
        sum(each.mass_lb for each in standing.rounds.all()) - weighs
    )
    assert of_stock(stock) == (least, 0, expected)
    give_back(acting_user=customer, program=SeasonProgram.objects.get())
    again = of_stock(stock)
    assert [each.name for each in planned_rounds(Horizon(APRIL, 26))] == ["Summer", "Fall"]
    assert float(again[0]) == pytest.approx(
        float(order.lines.get().reservations.get(stock=stock).needed_lb)
    )
    assert float(sum(again[:2])) == pytest.approx(float(expected), rel=0.005)


def test_page_csv_and_pdf_tell_what_is_only_planned(program, stock, office, rep, signed_in):
    ProgramRound.objects.update(on=today() + timedelta(days=20))
    planned = buying(timezone.localdate(), 13).of_stock(stock.code).planned
    assert planned > 0
    client, asked = signed_in(office), {"weeks": 13}
    assert f"{planned:,.0f} planned, not reserved" in client.get(reverse("buying"), asked).text
    one = client.get(reverse("buying_stock", args=[stock.code]), asked).text
    assert f"season plans that are not reserved: 3, {planned:,} lb" in one
    assert f"{program}, Summer" in one
    told = f"Season plans, not reserved: {planned:,.0f} lb"
    assert told in client.get(reverse("purchase_list"), asked).text
    pdf = client.get(reverse("purchase_list_pdf"), asked).content
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert told in " ".join(text.split())
    file = client.get(reverse("purchase_list_csv"), asked).content.decode("utf-8-sig")
    rows = {row["stock"]: row for row in csv.DictReader(io.StringIO(file))}
    assert float(rows[stock.code]["planned_not_reserved_lb"]) == float(planned)
    assert client.get(reverse("buying"), {"weeks": 4}).status_code == 200
