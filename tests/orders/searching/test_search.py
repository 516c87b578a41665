"""One search: numbers lead straight, all else by kind, and nobody finds what they may not open."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from blendshop.accounts.models import Company
from orders.models import Order, PackageSerial, Quote
from orders.searching.asked import Asked
from orders.searching.kinds import search
from tests.factories import CompanyFactory, ShipToFactory

YEAR = 2026


def groups(user, text):
    return {group.key: group for group in search(user, Asked(text, YEAR))}


def names(user, text):
    return {key: [hit.name for hit in group.hits] for key, group in groups(user, text).items()}


@pytest.fixture
def quote(rep, company):
    return Quote.objects.create(
        number="Q-2026-0042",
        company=company,
        ship_to=ShipToFactory(company=company),
        created_by=rep,
        valid_until=timezone.localdate(),
        total=Decimal("1234.50"),
    )


@pytest.fixture
def package(batch, plant_worker):
    return PackageSerial.objects.create(
        part=batch.parts.get(),
        serial=f"{batch.number}-01",
        net_lb=Decimal("2450.5"),
        key="package-1",
        by=plant_worker,
        who=str(plant_worker),
    )


def test_an_exact_number_leads_straight_to_its_record(
    rep, quote, order, batch, lots, package, signed_in
):
    lot = next(iter(lots.values()))
    leads = {
        quote.number: f"/quotes/{quote.number}/",
        order.number.lower(): f"/orders/{order.number}/",
        f"  {batch.number} ": f"/batches/{batch.number}/",
        lot.code: f"/lots/{lot.code}/",
        package.serial: f"/packages/{package.serial}/",
        # What a scanner reads off the codes of a package and a label.
        f"https://plant.example/packages/{package.serial}/": f"/packages/{package.serial}/",
        f"http://10.0.0.7:8000/batches/{batch.number}/parts/1/": f"/batches/{batch.number}/",
    }
    client = signed_in(rep)
    found = {text: client.get("/search/", {"q": text}).headers.get("Location") for text in leads}
    assert found == leads
    for text in ("https://[", "https://elsewhere.example/", "https://plant.example/stocks/UAN/"):
        assert "Nothing found" in client.get("/search/", {"q": text}).content.decode()


def test_the_end_of_a_number_finds_all_that_end_so(rep, quote, order):
    Order.objects.filter(pk=order.pk).update(number="O-2025-0042")
    found = names(rep, "42")
    assert (found["quotes"], found["orders"]) == (["Q-2026-0042"], ["O-2025-0042"])
    assert "orders" not in names(rep, "2026-42")


def test_plant_finds_no_quote_no_price_and_no_page_of_a_customer(
    plant_worker, rep, formulator, quote, order, batch, company, signed_in
):
    words = company.name[:6]
    assert {"quotes", "customers"} <= names(rep, words).keys()
    assert names(plant_worker, words).keys() == {"orders", "batches"}
    assert names(formulator, words).keys() == {"quotes", "orders", "batches"}
    client = signed_in(plant_worker)
    page = client.get("/search/", {"q": quote.number})
    assert page.status_code == 200
    assert "Nothing found" in page.content.decode()
    assert "$" not in client.get("/search/", {"q": words}).content.decode()


def test_a_customer_has_no_search(customer, plant_worker, shop, signed_in):
    client = signed_in(customer)
    assert client.get("/search/", {"q": "Q"}).status_code == 403
    assert 'id="header-search"' not in client.get("/orders/").content.decode()
    assert 'id="header-search"' in signed_in(plant_worker).get("/orders/").content.decode()


def test_each_hit_says_what_it_is(rep, quote, order, batch):
    found = groups(rep, quote.company.name)
    assert found["quotes"].hits[0].line == f"Quote for {quote.company}, $1,234.50, draft"
    assert (
        found["orders"].hits[0].line.startswith(f"Order of {quote.company}, batches planned, due")
    )
    assert batch.tank.name in found["batches"].hits[0].line


def test_a_customers_own_number_a_suppliers_lot_and_a_grade_are_found(rep, order, lots, revision):
    Order.objects.filter(pk=order.pk).update(customer_reference="PO 77/A")
    lot = next(iter(lots.values()))
    type(lot).objects.filter(pk=lot.pk).update(supplier_lot="RAIL-9")
    assert names(rep, "po 77/a") == {"orders": [order.number]}
    assert names(rep, "rail-9") == {"lots": [lot.code]}
    assert names(rep, revision.grade)["blends"] == [revision.blend.name]


def test_of_many_the_first_eight_are_shown_and_no_query_is_added(rep, company, order):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            found = groups(rep, company.name)
        return found, len(queries)

    few, queries_of_few = asked()
    for number in range(20):
        order.pk, order.number = None, f"O-2026-7{number:03d}"
        order.due_on = timezone.localdate() + timedelta(days=100 + number)
        order.save(force_insert=True)
    many, queries_of_many = asked()
    assert (len(few["orders"].hits), few["orders"].all_url) == (1, "")
    assert [hit.name for hit in many["orders"].hits] == [
        f"O-2026-7{number:03d}" for number in range(19, 11, -1)
    ]
    assert many["orders"].all_url.startswith("/orders/?q=")
    assert queries_of_many <= queries_of_few


def test_the_kind_with_the_best_hit_comes_first(rep, order):
    CompanyFactory(name=f"Friends of {order.number[:6]}")
    Company.objects.filter(pk=order.company_id).update(name="Elsewhere")
    found = search(rep, Asked(order.number[:6], YEAR))
    assert [group.key for group in found] == ["orders", "customers"]
