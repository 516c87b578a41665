"""A season of 40 acres from the rep's desk to the customer's phone, with the buying between.

Totes, pounds and gallons are worked out beside it with the acre of NIST Handbook 44, appendix C
(43,560 sq ft); the limit of 1.0 lb N at a time on cool-season grass is Virginia's (4VAC50-85),
which closes no part of the year.
"""

import csv
import io
import math
import re
from datetime import date, timedelta

import pytest
from playwright.sync_api import expect

from orders.frozen.line_price import LinePrice
from orders.models import Order, StandingRound
from tests.factories import ShipToFactory, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.planning.plant_cases import save_half_slow
from tests.orders.reordering.reorder_cases import new_cost

pytestmark = pytest.mark.browser
RATES = {"Spring": 1.0, "Fall": 0.7}


def days_of_rounds() -> dict[str, date]:
    """Two days of one year within the weeks that buying looks ahead."""
    first = today() + timedelta(days=20)
    if (first + timedelta(days=14)).year != first.year:
        first = date(first.year + 1, 1, 10)
    return dict(zip(RATES, (first, first + timedelta(days=14)), strict=True))


def totes_of(revision):
    """Whole totes of 265 gal of each round; what the first leaves over goes into the second."""
    lb_n_in_a_gal = revision.analysis["N"] / 100 * revision.density_lb_per_gal
    left, found = 0.0, []
    for rate in RATES.values():
        gal = 40 * 43.560 * rate / lb_n_in_a_gal
        found.append(math.ceil((gal - left) / 265))
        left += found[-1] * 265 - gal
    return found


def test_forty_acres_are_reserved_bought_for_and_released_on_a_phone_in_spanish(
    shop, page_for, company, customer, rep, office, plant_worker
):
    revision = save_half_slow(customer, company, "Lawn feed")
    review(revision)
    agree_limits(company)
    ShipToFactory(company=company)
    days, totes = days_of_rounds(), totes_of(revision)
    triazone = revision.lines.select_related("stock").get(stock__code="TRZ")
    make_lot(triazone.stock, plant_worker, 1000)

    # The rep makes the season and reserves it.
    desk = page_for(rep, width=1280, height=900)
    desk.goto(f"/seasons/customers/{company.pk}/")
    desk.get_by_role("link", name="Add a property or route").click()
    desk.get_by_label("Property or route").fill("Route A")
    desk.get_by_label("Acres treated").fill("40")
    desk.get_by_label("State").fill("VA")
    desk.get_by_label("Grass").select_option("tall_fescue")
    desk.get_by_role("button", name="Save").click()
    desk.get_by_role("link", name="Plan a season").click()
    desk.get_by_label("Name").fill("Lawns")
    desk.get_by_label("Year").fill(str(days["Spring"].year))
    desk.get_by_role("button", name="Save").click()
    for name, rate in (("Spring", "1.1"), ("Fall", "0.7")):
        desk.get_by_role("link", name="Add a round").click()
        desk.get_by_label("Round").fill(name)
        desk.get_by_label("Day").fill(days[name].isoformat())
        desk.get_by_label("Blend", exact=True).select_option(str(revision.pk))
        desk.get_by_label("N rate, lb per 1,000 sq ft").fill(rate)
        desk.get_by_role("button", name="Save").click()
    expect(desk.get_by_text("1 limit is broken").first).to_be_visible()
    desk.get_by_role("button", name="Use this rate Spring").click()
    expect(desk.get_by_text("limit is broken").first).to_be_hidden()
    desk.get_by_role("button", name="Reserve these totes").click()
    expect(desk.get_by_text("Reserved as SO-").first).to_be_visible()
    assert list(StandingRound.objects.waiting().values_list("quantity", flat=True)) == totes

    # Buying lists what they take, less what is on hand; page and file say the same.
    buyer = page_for(office, width=1280, height=900)
    weighs = sum(StandingRound.objects.values_list("mass_lb", flat=True))
    assert weighs == pytest.approx(sum(totes) * 265 * revision.density_lb_per_gal, rel=0.005)
    needed = weighs * triazone.pct / 100

    def lacking() -> float:
        file = buyer.request.get("/buying/purchase-list.csv?weeks=26").text()
        rows = {row["stock"]: row for row in csv.DictReader(io.StringIO(file.lstrip("\ufeff")))}
        return float(rows["TRZ"]["pounds"])

    buyer.goto("/buying/?weeks=26")
    row = buyer.get_by_role("row").filter(has=buyer.get_by_role("link", name="TRZ", exact=True))
    shown = row.locator("strong").filter(has_text=re.compile(r"^[\d,.]+$")).inner_text()
    assert float(shown.replace(",", "")) == lacking() == pytest.approx(needed - 1000, abs=0.01)

    # Costs rise; the customer's person releases the first round on a phone, in Spanish.
    new_cost("TRZ", "0.4600")
    customer.language = "es"
    customer.save()
    phone = page_for(customer, width=390, height=844)
    phone.goto("/seasons/")
    phone.get_by_role("link", name=f"Lawns {days['Spring'].year}").click()
    expect(phone.locator("html")).to_have_attribute("lang", "es")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.get_by_role("link", name=f"Liberar {totes[0]} Spring").click()
    expect(phone.get_by_text("Precio por gal: subió de")).to_be_visible()
    total = phone.get_by_text(re.compile(r"^Total \$")).inner_text()
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.get_by_role("button", name="Pedir ahora").click()
    expect(phone.get_by_text("Spring está liberada: pedido")).to_be_visible()

    order = Order.objects.get()
    line = order.lines.get()
    assert (order.status, line.quantity, order.wanted_on) == ("open", totes[0], days["Spring"])
    assert f"${order.total:,.2f}" in total
    reserved = StandingRound.objects.get(name="Spring")
    assert reserved.order == order
    assert line.price_per_gal > reserved_price(reserved)
    # The open order and the round that waits take together what both rounds took.
    assert lacking() == pytest.approx(needed - 1000, abs=0.01)


def reserved_price(reserved: StandingRound):
    return LinePrice.from_json(reserved.price).price_per_gal
