"""What to buy: an example worked by hand, and the same figures on page, CSV and PDF."""

import csv
import io
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from orders.buying.proposal import buying
from orders.models import Order, StandingRound
from tests.factories import BaseStockFactory, PlantProfileFactory, today
from tests.orders.buying.buying_cases import (
    example,
    lot_of,
    order_of,
    round_of,
    salt_and_recipe,
    terms_of,
)

MONDAY = date(2026, 3, 2)


def salt_of(found):
    return found.of_stock("SALT")


def test_two_orders_a_round_and_last_years_month_by_hand(office):
    terms_of(example(MONDAY, office))
    found = buying(MONDAY, 4)
    salt = salt_of(found)
    assert found.growth.factor == Decimal("1.25")  # 5,300 / 4,240
    assert [week.least for week in salt.weeks] == [1325, 2650, 3975, 3975]
    assert [week.expected for week in salt.weeks] == [2000, 2650, 3975, 5000]
    assert [week.most for week in salt.weeks] == [2500, 2650, 3975, 6250]
    assert [week.standing for week in salt.weeks] == [0, 0, 1325, 0]
    assert salt.level.usable == 3000  # 500 lb more are held
    assert (salt.short_at_least, salt.short_lb, salt.short_at_most) == (975, 2000, 3250)
    # The round of March 19 finds 350 lb left; a day to make it and one to release it before.
    assert (salt.runs_out_on, salt.needed_on) == (date(2026, 3, 19), date(2026, 3, 17))
    assert (salt.order_by, salt.is_due) == (date(2026, 3, 3), False)
    assert (salt.packs, salt.buy_lb, salt.is_least_order) == (4, 2400, False)
    assert salt.buy_gal == pytest.approx(240.0)
    assert found.to_buy == (salt,)  # water comes from the main


def test_what_is_late_is_ordered_today_and_stands_first(office):
    salt = example(MONDAY, office)
    terms_of(salt, lead_days=21)
    other = BaseStockFactory(code="ACID")
    lot_of(other, 10)
    revision = StandingRound.objects.get().revision
    round_of(revision, MONDAY + timedelta(days=1), office)
    line = order_of(revision, MONDAY + timedelta(days=25), placed_on=MONDAY).lines.get()
    line.reservations.filter(stock__code="WATER").update(stock=other)
    terms_of(other, lead_days=0)
    found = buying(MONDAY, 4)
    assert [each.stock.code for each in found.to_buy] == ["SALT", "ACID"]
    assert [each.stock.code for each in found.due] == ["SALT"]
    # Runs out March 12 (1,325 a day after today, then two orders), to be here March 10.
    assert (salt_of(found).order_by, salt_of(found).days_late) == (date(2026, 2, 17), 13)


def test_a_round_is_wanted_once_whatever_becomes_of_its_order(office):
    example(MONDAY, office)
    each = StandingRound.objects.get()
    each.order = order_of(each.revision, each.wanted_on, placed_on=MONDAY)
    each.save()
    for status, waits in (
        (Order.Status.OPEN, 0), (Order.Status.REQUESTED, 0), (Order.Status.CANCELLED, 1),
        (Order.Status.DECLINED, 1),
    ):  # fmt: skip
        Order.objects.filter(pk=each.order_id).update(status=status)
        assert salt_of(buying(MONDAY, 4)).least == 3975, status
        assert StandingRound.objects.waiting().count() == waits, status
    each.standing_order.ended_at = timezone.now()
    each.standing_order.save()
    assert salt_of(buying(MONDAY, 4)).least == 2650


def test_without_terms_just_what_lacks_is_bought_and_the_page_leads_to_the_terms(office, signed_in):
    example(today(), office)
    salt = salt_of(buying(today(), 4))
    assert (salt.terms, salt.buy_lb, salt.order_by) == (None, 2000, salt.needed_on)
    html = signed_in(office).get(reverse("buying"), {"weeks": 4}).text
    assert f"{reverse('supplier_terms')}?stock=SALT" in html
    assert "1 has no supplier terms." in html


def test_the_preferred_supplier_is_bought_from(office):
    salt = example(MONDAY, office)
    terms_of(salt, preferred=False)
    assert salt_of(buying(MONDAY, 4)).terms.supplier == "Supplier A, invented"
    terms_of(salt, supplier="Supplier B, invented")
    assert salt_of(buying(MONDAY, 4)).terms.supplier == "Supplier B, invented"


def test_a_plant_without_lots_is_told_to_buy_nothing(office, signed_in):
    _salt, revision = salt_and_recipe(office)
    order_of(revision, MONDAY, placed_on=MONDAY)
    assert buying(MONDAY, 4).to_buy == ()
    assert "No lots are kept yet" in signed_in(office).get(reverse("buying")).text


def test_page_csv_and_pdf_say_the_same(office, plant_worker, signed_in):
    PlantProfileFactory()
    terms_of(example(today(), office), price_note="=letter of May")
    client, asked = signed_in(office), {"weeks": 4}
    page = client.get(reverse("purchase_list"), asked).text
    file = client.get(reverse("purchase_list_csv"), asked)
    pdf = client.get(reverse("purchase_list_pdf"), asked)
    (row,) = csv.DictReader(io.StringIO(file.content.decode("utf-8-sig")))
    assert (row["supplier"], row["stock"]) == ("Supplier A, invented", "SALT")
    # 4 drums of 600 lb at 10 lb/gal and $0.25 a pound.
    assert [row[name] for name in ("packs", "pounds", "gallons", "cost_per_lb", "total")] == [
        "4", "2400", "240.0", "0.2500", "600.00",
    ]  # fmt: skip
    assert row["price_note"] == "'=letter of May"
    text = " ".join(
        "".join(p.extract_text() for p in PdfReader(BytesIO(pdf.content)).pages).split()
    )
    for shown in ("Supplier A, invented", "4 × 600 lb", "2,400", "240.0", "$0.25", "$600.00"):
        assert shown in page, shown
        assert shown in text, shown
    assert "A proposal; not an order" in page
    assert "A proposal; not an order" in text
    bought = signed_in(plant_worker).get(reverse("buying"), asked).text
    assert "2,400" in bought
    assert "$" not in bought


def test_a_stock_is_shown_week_by_week_with_what_wants_it(office, signed_in):
    terms_of(example(today(), office))
    response = signed_in(office).get(reverse("buying_stock", args=["SALT"]), {"weeks": 4})
    for shown in ("Buy 2,400 lb", "1,325 lb", "6,250", "Round 3", Order.objects.first().number):
        assert shown in response.text, shown
    assert signed_in(office).get(reverse("buying_stock", args=["NONE"])).status_code == 404


def test_other_weeks_than_those_offered_are_refused(office, signed_in):
    client = signed_in(office)
    assert client.get(reverse("buying"), {"weeks": 5}).status_code == 400
    assert 'value="13" selected' in client.get(reverse("buying")).text


def test_pages_ask_as_often_for_many_stocks_as_for_few(office, signed_in):
    client = signed_in(office)

    def queries():
        counts = []
        for route in ("buying", "purchase_list"):
            with CaptureQueriesContext(connection) as captured:
                assert client.get(reverse(route), {"weeks": 4}).status_code == 200
            counts.append(len(captured))
        return counts

    salt = example(today(), office)
    terms_of(salt)
    client.get(reverse("buying"))
    few = queries()
    revision = StandingRound.objects.get().revision
    for number in range(4):
        stock = BaseStockFactory(code=f"MORE{number}")
        terms_of(stock)
        lot_of(stock, 5)
        order = order_of(revision, today() + timedelta(days=number), placed_on=today())
        order.lines.get().reservations.filter(stock__code="WATER").update(stock=stock)
        round_of(revision, today() + timedelta(days=number), office)
    assert queries() == few
