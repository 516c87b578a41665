"""Pages of very many rows ask the database as often as pages of a few, and stay small."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import reverse
from django.utils import timezone

from blendshop.accounts.models import Company
from blendshop.errors import BadInput
from blendshop.searched_rows import FEW
from formulas.models import Blend, BlendRevision, RevisionLine
from orders.demo.large.actions.loading import load_large_plant
from orders.demo.large.size import SIZES
from orders.inventory.levels import ledger_differences
from orders.models import Batch, BatchPart, Order, Quote, StockMovement, Tank, TankEntry
from orders.planning.tank_sequence import tank_sequences
from orders.production.net_weight import net_weights
from orders.quoting.forms import offered_revisions
from tests.demo_rows import put_in_demo
from tests.factories import CompanyFactory
from tests.remembered_rows import RememberedRows

TINY = SIZES["tiny"]


def load():
    with override_settings(DEBUG=True):
        load_large_plant(size=TINY, today=timezone.localdate())


def build():
    put_in_demo()
    load()


_PLANT = RememberedRows(build, apps=frozenset({"account", "accounts", "formulas", "orders"}))


@pytest.fixture
def plant_of_years(db):
    _PLANT()


def queries(client, route, **asked):
    """How many queries the page takes once it has been opened before."""
    client.get(reverse(route), asked)
    with CaptureQueriesContext(connection) as captured:
        assert client.get(reverse(route), asked).status_code == 200
    return len(captured)


def test_the_large_plant_is_what_its_size_says_and_its_ledger_adds_up(plant_of_years):
    assert Quote.objects.count() >= TINY.quotes
    assert Order.objects.filter(status=Order.Status.SHIPPED).count() == TINY.shipped_orders
    assert Batch.objects.filter(status=Batch.Status.PLANNED).count() >= TINY.planned_orders
    assert StockMovement.objects.filter(kind="used").exists()
    assert ledger_differences() == []
    varied = BlendRevision.objects.filter(blend__name__contains="variant")
    recipes = {
        tuple(RevisionLine.objects.filter(revision=each).values_list("stock", "pct"))
        for each in varied
    }
    assert len(recipes) == TINY.blends  # no two are alike
    with pytest.raises(BadInput, match="empty database"):
        load()


def test_pages_of_loads_ask_as_often_for_many_batches_as_for_few(
    plant_of_years, signed_in, plant_worker
):
    client = signed_in(plant_worker)
    pages = ("tank_planning", "the_day", "day_undone", "labels_waiting", "order_board")
    few = {name: queries(client, name) for name in pages}
    planned = list(Batch.objects.filter(status=Batch.Status.PLANNED))
    made = Batch.objects.filter(
        status=Batch.Status.RELEASED, parts__order_line__order__status="made"
    )
    for batch in [*planned, *made.distinct()]:
        parts = list(batch.parts.all())
        batch.pk, batch.number = None, f"{batch.number}-again"
        batch.save()
        for part in parts:
            part.pk, part.batch = None, batch
            part._state.adding = True
            part.save()
    assert sum(len(each.changes) for each in tank_sequences()) == 2 * len(planned)
    assert {name: queries(client, name) for name in pages} == few


def test_lists_ask_as_often_for_many_rows_as_for_few(plant_of_years, signed_in, office):
    client = signed_in(office)
    pages = {
        "order_board": {"status": "all"},
        "quote_list": {},
        "customer_list": {},
        "blend_list": {},
        "batch_list": {"status": "all"},
        "lot_list": {"state": "all"},
        "season_plan": {},
    }
    some = {
        name: queries(client, name, **asked, q="variant 00001") for name, asked in pages.items()
    }
    found = {name: queries(client, name, **asked) for name, asked in pages.items()}
    assert {name: found[name] for name in pages if found[name] > some[name] + 6} == {}


def test_weights_of_many_parts_are_those_of_each_in_the_queries_of_one(plant_of_years):
    parts = list(BatchPart.objects.live().prefetch_related("packages"))
    with CaptureQueriesContext(connection) as of_one:
        net_weights(parts[:1])
    with CaptureQueriesContext(connection) as of_all:
        found = net_weights(parts)
    assert len(of_all) <= len(of_one) + 6  # one by one it were some for each part
    assert found == {part.pk: net_weights([part])[part.pk] for part in parts}
    assert {bool(weight.estimated) for weight in found.values()} == {True, False}


def test_the_newest_entry_of_each_tank_is_found_whatever_came_to_other_tanks(plant_of_years):
    newest = {}
    for entry in TankEntry.objects.order_by("pk"):
        newest[entry.tank_id] = entry.pk
    unused = Tank.objects.all()[0]
    unused.pk, unused.name = None, "Never used"
    unused.save()
    assert len(newest) > 1
    assert {each.tank_id: each.pk for each in TankEntry.objects.newest()} == newest


def test_a_quote_offers_the_newest_revision_a_new_quote_may_begin_with(db, office, company):
    blend, own = (Blend.objects.create(name=n, created_by=office) for n in ("Book", "Own"))
    Blend.objects.filter(pk=own.pk).update(company=company)
    stranger = Blend.objects.create(name="Theirs", created_by=office, company=CompanyFactory())
    archived = Blend.objects.create(name="Old", created_by=office, archived=True)
    made = {
        (of.name, number): BlendRevision.objects.create(
            blend=of, number=number, wish={}, answer={}, grade="24-0-3",
            density_lb_per_gal=10.6, created_by=office, for_order_only=number == 3,
        )
        for of in (blend, own, stranger, archived)
        for number in (1, 2, 3)
    }  # fmt: skip
    offered = offered_revisions(office, company.pk, {made["Old", 1].pk})
    assert list(offered) == [made["Book", 2], made["Old", 1], made["Own", 2]]
    assert list(offered_revisions(office, None)) == [made["Book", 2]]


def test_very_many_customers_are_searched(db, signed_in, office):
    client = signed_in(office)
    CompanyFactory.create_batch(FEW)
    wanted = CompanyFactory(name="Zinnia Court Lawns (demo)")
    for route in ("quote_new", "blend_list"):
        assert f">{wanted}<" not in client.get(reverse(route)).text  # far down the alphabet
        searched = client.get(reverse(route), {"company_search": "zinnia"}).text
        assert route == "quote_new" or f">{wanted}<" in searched
    asked = {"as": "company_search", "company_search": "zinnia"}
    options = client.get(reverse("customer_options"), asked).text
    assert f'<option value="{wanted.pk}">{wanted}</option>' in options
    assert options.count("<option") == 2


def test_a_few_customers_stay_a_plain_select(db, signed_in, office):
    wanted = CompanyFactory(name="Zinnia Court Lawns (demo)")
    page = signed_in(office).get(reverse("quote_new")).text
    assert f">{wanted}<" in page
    assert "company_search" not in page
    assert Company.objects.count() <= FEW
