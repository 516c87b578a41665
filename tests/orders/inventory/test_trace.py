"""From a lot to every customer, from a package to every lot; on one page and in one CSV."""

import csv
import io
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from blendshop.long_work.models import LongWork
from orders.inventory.actions.lots import adjust_lot, transfer_lot, use_lot
from orders.inventory.trace import trace
from orders.inventory.traced import Start
from orders.models import Batch, PackageSerial, TankRinse
from orders.tracing.table import COLUMNS, table
from tests.factories import BaseStockFactory, CompanyFactory
from tests.jobs.queue_cases import run_due
from tests.orders.inventory.stock_cases import make_lot, new_key, plan
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow


class Floor:
    """Three batches: one each for Brookmeadow and Hillside, and a third nobody traces."""

    def __init__(self, rep, company, worker):
        make_shop()
        self.worker = worker
        blend = save_half_slow(rep, None, "House blend")
        hillside = CompanyFactory(name="Hillside Turf")
        self.first, self.second, self.third = (
            plan(placed_order(rep, customer, revision=blend), worker)[0]
            for customer in (company, hillside, CompanyFactory(name="Faraway Parks"))
        )
        self.a, self.b = BaseStockFactory(code="AA"), BaseStockFactory(code="BB")

    def lot(self, stock, **more):
        return make_lot(stock, self.worker, 10_000, **more)

    def use(self, lot, batch, lb=100):
        return use_lot(
            lot=lot, mass_lb=lb, batch=batch, acting_user=self.worker, key=new_key("use")
        )

    def fill(self, batch, *serials):
        for serial in serials:
            PackageSerial.objects.create(
                part=batch.parts.get(), serial=serial, net_lb=2800, key=new_key(), who="worker"
            )

    def move(self, lot, lb=500):
        return transfer_lot(
            lot=lot, mass_lb=lb, location="Tank 8", acting_user=self.worker, key=new_key()
        )

    def rinse(self, batch, lot):
        TankRinse.objects.create(
            tank=batch.tank, batch=batch, water_lb=300, residue_lb=4, destination="kept",
            lot=lot, key=new_key(), who="worker",
        )  # fmt: skip


@pytest.fixture
def floor(rep, company, plant_worker):
    return Floor(rep, company, plant_worker)


def batches(found):
    return [Batch.objects.get(number=batch.number) for batch in found.batches]


def serials(found):
    return [
        package.serial
        for traced in found.batches
        for part in traced.parts
        for package in part.packages
    ]


def test_a_lot_leads_to_every_batch_package_and_customer_it_went_to(floor):
    lot, other = floor.lot(floor.a), floor.lot(floor.a)
    floor.use(lot, floor.first, 120.5)
    floor.use(lot, floor.first, 10)
    floor.use(lot, floor.second)
    floor.use(other, floor.third)
    floor.fill(floor.first, "P-1", "P-2")
    floor.fill(floor.second, "P-3")
    floor.fill(floor.third, "P-9")
    found = trace(lot.code.lower())
    assert found.start == Start.LOT
    assert batches(found) == [floor.first, floor.second]
    assert serials(found) == ["P-1", "P-2", "P-3"]
    assert found.customers == ("Brookmeadow Lawn Care", "Hillside Turf")
    assert [use.lb for use in found.batches[0].uses] == [Decimal("130.5")]
    assert found.lots == (lot,)


def test_a_package_leads_to_every_lot_of_its_batch_and_no_other(floor):
    in_it = [floor.lot(floor.a), floor.lot(floor.b)]
    for lot in in_it:
        floor.use(lot, floor.first)
    floor.use(floor.lot(floor.a), floor.second)
    floor.fill(floor.first, "P-1", "P-2")
    found = trace("p-1")
    assert (found.start, found.is_forward) == (Start.PACKAGE, False)
    assert list(found.lots) == in_it
    assert batches(found) == [floor.first]
    assert serials(found) == ["P-1"]


def test_a_batch_and_an_order_lead_to_their_lots_too(floor):
    lot = floor.lot(floor.a)
    floor.use(lot, floor.first)
    for asked in (floor.first.number, floor.first.parts.get().order_line.order.number):
        found = trace(asked)
        assert (batches(found), found.lots) == ([floor.first], (lot,))


def test_a_suppliers_lot_that_came_in_twice_is_traced_as_one(floor):
    one, two = (floor.lot(floor.a, supplier_lot="SUP-77") for _ in range(2))
    floor.use(one, floor.first)
    floor.use(two, floor.second)
    found = trace("sup-77")
    assert found.start == Start.SUPPLIER_LOT
    assert batches(found) == [floor.first, floor.second]
    assert set(found.lots) == {one, two}


def test_the_trace_follows_a_part_that_was_moved_to_another_tank_both_ways(floor):
    lot = floor.lot(floor.a)
    part = floor.move(floor.move(lot), 200)
    sibling = floor.move(lot, 150)
    floor.use(part, floor.second)
    floor.use(sibling, floor.third)
    assert batches(trace(lot.code)) == [floor.second, floor.third]
    assert batches(trace(part.code)) == [floor.second]
    back = trace(floor.second.number)
    assert lot in back.lots
    assert part in back.lots
    assert sibling not in back.lots


def test_the_trace_follows_rinse_water_into_the_batch_it_was_used_in(floor):
    """What rinsed the tank after the first batch carries its residue into the second."""
    lot, water = floor.lot(floor.a), floor.lot(BaseStockFactory(code="RINSE"))
    floor.use(lot, floor.first)
    floor.rinse(floor.first, water)
    floor.use(water, floor.second)
    assert batches(trace(lot.code)) == [floor.first, floor.second]
    back = trace(floor.second.number)
    assert set(back.lots) == {lot, water}
    assert batches(back) == [floor.first, floor.second]


def test_a_charge_reversed_whole_leads_nowhere(floor):
    lot, other = floor.lot(floor.a), floor.lot(floor.b)
    floor.use(lot, floor.first, 100)
    floor.use(other, floor.first, 100)
    adjust_lot(
        lot=lot,
        mass_lb=100,
        batch=floor.first,
        why="Wrong lot scanned.",
        acting_user=floor.worker,
        key=new_key(),
    )
    assert batches(trace(lot.code)) == []
    assert trace(floor.first.number).lots == (other,)


def test_what_nobody_has_given_out_is_not_found(floor):
    assert trace("") is None
    assert trace("L-1999-0001") is None


def test_the_csv_has_a_row_for_each_lot_batch_and_package_and_runs_nothing(
    floor, signed_in, office
):
    lot = floor.lot(floor.a, supplier="=HYPERLINK(1)")
    floor.use(lot, floor.first, 120.5)
    floor.fill(floor.first, "P-1", "P-2")
    floor.use(lot, floor.second)
    unused = floor.move(lot)
    response = signed_in(office).get(reverse("trace_csv"), {"q": lot.code})
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    rows = list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert tuple(rows[0]) == COLUMNS
    assert [(row["lot"], row["batch"], row["package"], row["lb in batch"]) for row in rows] == [
        (lot.code, floor.first.number, "P-1", "120.500"),
        (lot.code, floor.first.number, "P-2", "120.500"),
        (lot.code, floor.second.number, "", "100.000"),
        (unused.code, "", "", ""),
    ]
    assert rows[0]["customer"] == "Brookmeadow Lawn Care"
    assert rows[0]["supplier"] == "'=HYPERLINK(1)"
    assert {len(row) for row in table(trace(lot.code))} == {len(COLUMNS)}


def test_a_worker_writes_the_csv_of_very_many_batches(
    floor, signed_in, office, monkeypatch, settings, tmp_path
):
    settings.MEDIA_ROOT = tmp_path
    lot = floor.lot(floor.a)
    floor.use(lot, floor.first, 120.5)
    floor.use(lot, floor.second)
    client, asked = signed_in(office), {"q": lot.code}
    at_once = client.get(reverse("trace_csv"), asked)
    monkeypatch.setattr("orders.tracing.views.MOST_BATCHES_AT_ONCE", 1)
    asks = client.get(reverse("trace_csv"), asked)
    assert f"The trace of {lot.code} is through 2 batches." in asks.text
    assert not LongWork.objects.exists()  # who only reads an address begins nothing
    begun = client.post(f"{reverse('trace_csv')}?{urlencode(asked)}")
    run_due()
    assert client.get(f"{begun['Location']}download/").content == at_once.content


def test_the_page_shows_the_trace_without_a_price_and_says_when_it_finds_nothing(
    floor, signed_in, plant_worker
):
    lot = floor.lot(floor.a)
    floor.use(lot, floor.first)
    floor.fill(floor.first, "P-1")
    client = signed_in(plant_worker)
    html = client.get(reverse("trace"), {"q": lot.code}).content.decode()
    assert html.count("<h1") == 1
    for word in (lot.code, floor.first.number, "Brookmeadow Lawn Care", "P-1"):
        assert word in html
    scanned = client.get(reverse("trace"), {"q": "https://plant.example/packages/P-1/"})
    assert scanned.context["found"].asked == "P-1"
    assert "$" not in html
    assert " style=" not in html
    nothing = client.get(reverse("trace"), {"q": "<b>x"}).content.decode()
    assert "Nothing is known as &lt;b&gt;x" in nothing
    assert client.get(reverse("trace_csv"), {"q": "x"}).status_code == 400
    assert client.get(reverse("trace_csv")).status_code == 400


def test_customers_may_not_trace(floor, signed_in, customer):
    for route in ("trace", "trace_csv", "lot_list", "stock_levels"):
        assert signed_in(customer).get(reverse(route)).status_code == 403


def test_a_trace_asks_the_same_few_questions_however_much_it_finds(
    floor, django_assert_max_num_queries
):
    for lot in [floor.lot(floor.a) for _ in range(5)]:
        for batch in Batch.objects.all():
            floor.use(lot, batch)
    floor.fill(floor.first, *[f"P-{n}" for n in range(20)])
    with django_assert_max_num_queries(15):
        list(table(trace("P-3")))
