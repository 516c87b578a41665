"""Tons by county and grade: to the pound what was shipped, no more days and no other state."""

import csv
import io
from collections import Counter
from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from urllib.parse import urlencode

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from blendshop.errors import BadInput
from blendshop.long_work.models import LongWork
from formulas.models import Blend, BlendRevision
from orders.compliance.tonnage import NO_COUNTY, states, tonnage_report, tons, whole_pounds
from orders.frozen.consignment import Consignment, PackageName, Place
from orders.models import (
    Batch,
    BatchPart,
    Order,
    OrderEvent,
    OrderLine,
    Package,
    PackageSerial,
    ShipTo,
    StateFee,
    Tank,
)
from orders.ordering.actions import mark_shipped
from orders.production.actions.batches import release_batch
from orders.production.made_record import made_record
from orders.production.net_weight import estimated_package_lb
from tests.factories import PackageFactory, ShipToFactory, TankFactory
from tests.jobs.queue_cases import run_due
from tests.orders.inventory.stock_cases import new_key, plan
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import make_shop, placed_order
from tests.orders.production.charging_cases import made_uncharged, read_density
from tests.stored_answers import stored_answer

MARCH = (date(2026, 3, 1), date(2026, 3, 31))


@pytest.fixture
def parts(office, company):
    """A blend in two grades and one package: what an order line needs."""
    blend = Blend.objects.create(name="Summer", created_by=office)
    revisions = {
        grade: BlendRevision.objects.create(
            blend=blend, number=number, wish={}, answer=stored_answer({}), grade=grade,
            density_lb_per_gal=10.6, created_by=office,
        )
        for number, grade in enumerate(("24-0-3", "15-0-8"), start=1)
    }  # fmt: skip
    PackageFactory()
    TankFactory()
    return revisions


def ship(parts, on, lbs, *, state="MD", county="Howard", grade="24-0-3", hour=12, quantity=2):
    """An order shipped at ``hour`` of a day, plant time, one line for each mass."""
    order = Order.objects.create(
        number=new_key("O")[:20],
        company=ship.company,
        ship_to=ShipToFactory(company=ship.company, state=state, county=county),
        status="shipped",
        due_on=on,
        total=0,
    )
    OrderLine.objects.bulk_create(
        OrderLine(
            order=order, position=position, revision=parts[grade], package=Package.objects.get(),
            quantity=quantity, volume_gal=lb / 10.6, mass_lb=lb, price_per_gal=1, line_total=0,
        )
        for position, lb in enumerate(lbs, start=1)
    )  # fmt: skip
    at = timezone.make_aware(datetime(on.year, on.month, on.day, hour, 30))  # noqa: DTZ001
    event = OrderEvent(order=order, who="office", from_status="made", to_status="shipped")
    OrderEvent.objects.bulk_create([event])
    set_at(event, at)
    return order


def set_at(event, at):
    """Events are written once and dated by the clock; a test has to turn it back below them."""
    super(type(OrderEvent.objects.all()), OrderEvent.objects.filter(pk=event.pk)).update(at=at)


@pytest.fixture(autouse=True)
def _company(company):
    ship.company = company


def cells(report):
    return {(row.county, row.grade): row.lb for row in report.rows}


def test_pounds_are_summed_by_county_and_grade(parts):
    ship(parts, date(2026, 3, 5), [2800.4, 100.0])
    ship(parts, date(2026, 3, 9), [2800.5], grade="15-0-8")
    ship(parts, date(2026, 3, 9), [40.0], county="Carroll")
    ship(parts, date(2026, 3, 9), [7.0], county="")
    report = tonnage_report("MD", *MARCH)
    assert cells(report) == {
        ("Howard", "24-0-3"): 2900,
        ("Howard", "15-0-8"): 2801,
        ("Carroll", "24-0-3"): 40,
        (NO_COUNTY, "24-0-3"): 7,
    }
    assert (report.lb, report.tons) == (5748, Decimal("2.8740"))


def test_only_the_state_and_the_days_asked_for_count_by_the_plants_own_clock(parts):
    """23:30 in New York on March 31 is April in UTC and still March here."""
    ship(parts, date(2026, 3, 1), [10], hour=0)
    ship(parts, date(2026, 3, 31), [20], hour=23)
    ship(parts, date(2026, 2, 28), [100], hour=23)
    ship(parts, date(2026, 4, 1), [200], hour=0)
    ship(parts, date(2026, 3, 15), [400], state="NY")
    assert tonnage_report("MD", *MARCH).lb == 30


def test_what_has_not_left_the_plant_is_not_reported(parts):
    order = ship(parts, date(2026, 3, 5), [500])
    Order.objects.filter(pk=order.pk).update(status="made")
    assert tonnage_report("MD", *MARCH).lb == 0


def test_a_shipment_stays_where_it_went_when_the_address_is_changed_later(
    office, plant_worker, rep, company
):
    make_shop()
    order = placed_order(rep, company)
    for batch in plan(order, plant_worker):
        made_uncharged(batch, plant_worker)
        read_density(batch, plant_worker)
        release_batch(batch=batch, acting_user=plant_worker)
    ShipTo.objects.update(state="MD", county="Howard")
    order = Order.objects.get(pk=order.pk)
    approve_labels(order)
    mark_shipped(order=order, acting_user=office, why="weighed on paper")
    ShipTo.objects.update(state="NY", county="Erie")
    today = timezone.localdate()
    [row] = tonnage_report("MD", today, today).rows
    part = BatchPart.objects.get(order_line__order=order)
    each_lb = estimated_package_lb(made_record(part.batch), part)
    assert (row.county, row.lb) == ("Howard", whole_pounds(order.lines.get().quantity * each_lb))
    assert tonnage_report("NY", today, today).rows == ()
    assert states() == ["MD"]


def test_a_reversed_period_is_refused(db):
    with pytest.raises(BadInput):
        tonnage_report("MD", MARCH[1], MARCH[0])


#: As much of a plan and of a consignment as a report of weighed packages reads.
PLANNED = {"tolerance_pct": 0.5, "printed_pct": {"N": "24", "N.urea": "24", "K2O": "3"}}
CONSIGNMENT = Consignment(
    customer_name="Brookmeadow", ship_to_lines=(), ship_to=Place("MD", "Howard", ""),
    order_number="O", n_rate_lb_per_1000sqft=None, volume_gal=530.0,
    package=PackageName("265 gal tote", "265 gal totes", is_bulk=False),
)  # fmt: skip


def fill(order, status, *nets, **planned):
    """A batch of the order's first line with its packages, released with nothing in the way."""
    line = order.lines.get(position=1)
    batch = Batch.objects.create(
        number=new_key("B"), load_number=1, load_count=1, tank=Tank.objects.get(), status=status,
        target_gal=1, target_lb=1, plan={**PLANNED, **planned}, created_by=fill.office,
    )  # fmt: skip
    batch.events.create(who="worker", from_status="made", to_status=status, data={"hindrances": []})
    part = BatchPart.objects.create(
        batch=batch, position=1, order_line=line, quantity=len(nets), delivery=CONSIGNMENT.to_json()
    )
    for net in nets:
        PackageSerial.objects.create(
            part=part, serial=new_key("P"), net_lb=Decimal(net), key=new_key(), who="worker"
        )


def test_weighed_packages_count_as_weighed(parts, office):
    fill.office = office
    order = ship(parts, date(2026, 3, 5), [5600])
    fill(order, "released", "2790.5", "2795")
    fill(order, "cancelled", "999")
    [shipment] = tonnage_report("MD", *MARCH).shipments
    assert (shipment.lb, shipment.weighed, shipment.estimated) == (5586, 2, 0)


def test_a_line_of_two_loads_in_two_grades_is_reported_in_both(parts, office):
    fill.office = office
    order = ship(parts, date(2026, 3, 5), [5600])
    fill(order, "released", "2790.5")
    fill(order, "released", "2795", printed_pct={"N": "15", "N.urea": "15", "K2O": "8"})
    assert cells(tonnage_report("MD", *MARCH)) == {
        ("Howard", "24-0-3"): 2791,
        ("Howard", "15-0-8"): 2795,
    }


def test_the_fee_is_rate_times_tons_and_never_below_the_minimum_of_a_report(parts):
    """Rates and minima as published: MD COMAR 15.18.03.06 ($0.25), NY AML 146-c ($0.10, $50)."""
    StateFee.objects.create(
        state="MD", fee_per_ton=Decimal("0.25"), citation="COMAR 15.18.03.06", mark="verified"
    )
    StateFee.objects.create(
        state="NY", fee_per_ton=Decimal("0.10"), citation="AML 146-c", mark="verified"
    )
    ship(parts, date(2026, 3, 5), [43_210])
    ship(parts, date(2026, 3, 5), [43_210], state="NY")
    maryland = tonnage_report("MD", *MARCH).fee
    # 43,210 lb = 21.605 tons; 21.605 x 0.25 = 5.40125
    assert (maryland.by_tons, maryland.minimum, maryland.due) == (
        Decimal("5.40"),
        None,
        Decimal("5.40"),
    )
    assert maryland.citation == "COMAR 15.18.03.06"
    new_york = tonnage_report("NY", *MARCH).fee
    assert (new_york.by_tons, new_york.due) == (Decimal("2.16"), Decimal("50.00"))


def test_a_state_without_a_rate_has_no_fee_rather_than_a_fee_of_nothing(parts):
    ship(parts, date(2026, 3, 5), [500], state="ZZ")
    StateFee.objects.create(state="ZZ", fee_per_ton=1, citation="x", mark="demo", active=False)
    assert tonnage_report("ZZ", *MARCH).fee is None


@given(st.integers(0, 10**9))
def test_tons_are_exact_at_four_places(lb):
    assert tons(lb) * 2000 == lb
    assert Decimal(f"{tons(lb):.4f}") == tons(lb)


@given(st.decimals("0", "100000", places=3))
def test_a_line_is_rounded_to_the_nearest_pound_half_up(mass):
    assert -Decimal("0.5") < mass - whole_pounds(mass) < Decimal("0.5") or (
        whole_pounds(mass) - mass == Decimal("0.5")
    )


shipments_made = st.lists(
    st.tuples(
        st.integers(0, 80),
        st.sampled_from(["MD", "NY"]),
        st.sampled_from(["Howard", "Carroll", ""]),
        st.sampled_from(["24-0-3", "15-0-8"]),
        st.lists(st.floats(0.4, 50_000), min_size=1, max_size=3),
    ),
    max_size=8,
)


@given(shipments_made)
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_the_reports_reconcile_with_the_shipments_to_the_pound(parts, made):
    """Any split of the time into periods and of the goods into states adds up to every line."""
    begin = date(2026, 1, 10)
    with transaction.atomic():
        expected = Counter()
        for day, state, county, grade, lbs in made:
            on = begin + timedelta(day)
            ship(parts, on, lbs, state=state, county=county, grade=grade, hour=day % 24)
            for lb in lbs:
                expected[state, county or NO_COUNTY, grade] += whole_pounds(lb)
        found = Counter()
        months = [(1, 31), (2, 28), (3, 31), (4, 30)]
        for state in ("MD", "NY"):
            for month, last in months:
                report = tonnage_report(state, date(2026, month, 1), date(2026, month, last))
                assert report.lb == sum(shipment.lb for shipment in report.shipments)
                assert report.tons == sum((row.tons for row in report.rows), Decimal(0))
                for row in report.rows:
                    found[state, row.county, row.grade] += row.lb
        assert found == expected
        transaction.set_rollback(True)


def test_page_csv_and_pdf_say_the_same(parts, office, signed_in):
    StateFee.objects.create(
        state="MD", fee_per_ton=Decimal("0.25"), citation="COMAR 15.18.03.06", mark="verified"
    )
    order = ship(parts, date(2026, 3, 5), [2800.4, 100.0])
    ship(parts, date(2026, 3, 9), [2000.0], county="Carroll")
    asked = {"state": "MD", "first": "2026-03-01", "last": "2026-03-31"}
    client = signed_in(office)
    html = client.get(reverse("tonnage"), asked).content.decode()
    assert html.count("<h1") == 1
    assert " style=" not in html
    rows = list(
        csv.DictReader(
            io.StringIO(client.get(reverse("tonnage_csv"), asked).content.decode("utf-8-sig"))
        )
    )
    assert [(row["county"], row["grade"], row["pounds"], row["tons"]) for row in rows] == [
        ("Carroll", "24-0-3", "2000", "1.0000"),
        ("Howard", "24-0-3", "2900", "1.4500"),
        ("all counties", "all grades", "4900", "2.4500"),
    ]
    pdf = client.get(reverse("tonnage_pdf"), asked)
    assert pdf["Content-Type"] == "application/pdf"
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(pdf.content)).pages)
    for shown in ("1.4500", "2.4500", "4,900", "$0.61", "COMAR 15.18.03.06", order.number):
        assert shown in html, shown
        assert shown in text, shown
    assert "work sheet" in " ".join(text.split())


@pytest.mark.parametrize("suffix", ["csv", "pdf"])
def test_a_worker_draws_the_file_of_very_many_orders(
    suffix, parts, office, signed_in, monkeypatch, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    ship(parts, date(2026, 3, 5), [2800.4])
    ship(parts, date(2026, 3, 9), [2000.0])
    asked = {"state": "MD", "first": "2026-03-01", "last": "2026-03-31"}
    client, route = signed_in(office), reverse(f"tonnage_{suffix}")
    at_once = client.get(route, asked)
    monkeypatch.setattr("orders.compliance.tonnage_views.MOST_ORDERS_AT_ONCE", 1)
    assert "2 orders were shipped to MD in this period." in client.get(route, asked).text
    assert not LongWork.objects.exists()  # who only reads an address begins nothing
    begun = client.post(f"{route}?{urlencode(asked)}")
    run_due()
    assert "The file is ready." in client.get(begun["Location"]).content.decode()
    saved = client.get(f"{begun['Location']}download/")
    assert saved["Content-Type"] == at_once["Content-Type"]
    assert f'filename="tonnage-MD-2026-03-01-2026-03-31.{suffix}"' in saved["Content-Disposition"]
    assert saved.content == at_once.content


def test_a_worker_adds_up_very_many_orders_as_the_page_does(parts, office, signed_in, monkeypatch):
    ship(parts, date(2026, 3, 5), [2800.4])
    ship(parts, date(2026, 3, 9), [2000.0], county="Carroll")
    address = f"{reverse('tonnage')}?state=MD&first=2026-03-01&last=2026-03-31"
    client = signed_in(office)
    at_once = client.get(address).context["report"]
    monkeypatch.setattr("orders.compliance.tonnage_views.MOST_ORDERS_ADDED_AT_ONCE", 1)
    asks = client.get(address)
    assert "report" not in asks.context
    assert "Add them up" in asks.text
    assert asks.text.count("<td>Carroll</td>") == 1  # the shipments are there all the same
    assert not LongWork.objects.exists()
    begun = client.post(address)
    run_due()
    led = client.get(begun["Location"])
    assert led["Location"] == address
    shown = client.get(address)
    assert shown.context["report"].rows == at_once.rows
    assert not shown.context["is_more_shipped"]
    ship(parts, date(2026, 3, 20), [100.0])
    assert client.get(address).context["is_more_shipped"]


def test_a_report_asks_as_often_for_many_shipments_as_for_few(parts, office, signed_in):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("tonnage"), asked).status_code == 200
        return len(captured)

    client, asked = signed_in(office), {"state": "MD", "first": "2026-03-01", "last": "2026-03-31"}
    for day in (3, 4):
        ship(parts, date(2026, 3, day), [2800.4])
    client.get(reverse("tonnage"), asked)
    few = queries()
    for day in range(5, 10):
        ship(parts, date(2026, 3, day), [2800.4, 100.0])
    assert queries() == few


def test_a_wrong_question_is_answered_with_what_is_wrong(parts, office, signed_in):
    client = signed_in(office)
    assert "Nothing has been shipped" in client.get(reverse("tonnage")).content.decode()
    ship(parts, date(2026, 3, 5), [2800.4])
    assert client.get(reverse("tonnage_csv"), {"state": "XX"}).status_code == 400
    reversed_days = {"state": "MD", "first": "2026-03-31", "last": "2026-03-01"}
    assert client.get(reverse("tonnage"), reversed_days).status_code == 400
