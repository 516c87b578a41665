"""A recall crosses heels both ways, with the pounds of a lot that went over, and asks no more."""

import csv
import io
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import IllegalMove
from orders.inventory.actions.lot_quality import hold_lot
from orders.inventory.holds import held_lots, require_no_hold
from orders.inventory.trace import trace
from orders.inventory.traced import Start
from orders.models import StockLot, Tank
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.packaging import close_batch, fill_packages
from orders.tanks.actions.rinsing import Rinse, record_rinse
from orders.tracing.table import COLUMNS, as_json, table
from tests.factories import CompanyFactory
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow
from tests.orders.production.charging_cases import (
    charge_all,
    lots_of,
    new_key,
    read_density,
)
from tests.remembered_rows import RememberedRows

HEEL_LB = 100


def make_next(company, rep, worker, blend, lots=None):
    """One tote on the heel of what was there, from plentiful lots of its own unless said."""
    order = placed_order(rep, company, revision=blend, quantity=1)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=worker)
    lots = lots if lots is not None else lots_of(batch, worker)
    charge_all(batch, lots, worker)
    mark_made(batch=batch, acting_user=worker)
    batch.refresh_from_db()
    read_density(batch, worker)
    release_batch(batch=batch, acting_user=worker)
    held_lb = Tank.objects.get().ledger.last().held.mass_lb
    net_lb = Decimal(str(round(held_lb, 3))) - HEEL_LB
    part = batch.parts.get()
    fill_packages(part=part, net_lb=[net_lb], key=new_key(), acting_user=worker)
    close_batch(batch=batch, why="", heel_lb=Decimal(HEEL_LB), key=new_key(), acting_user=worker)
    return {"batch": batch, "lots": lots}


_MADE_NEXT = RememberedRows(make_next)


class Row:
    """Batches of one blend one after the other in one tank, each for a customer of its own."""

    def __init__(self, rep, worker):
        make_shop()
        self.rep, self.worker = rep, worker
        self.blend = save_half_slow(rep, None, "House blend")

    def make(self, customer, lots=None):
        people = (CompanyFactory(name=customer), self.rep, self.worker, self.blend)
        made = make_next(*people, lots) if lots is not None else _MADE_NEXT(*people)
        return made["batch"], made["lots"]

    def rinse(self):
        return record_rinse(
            tank=Tank.objects.get(), rinse=Rinse(Decimal(300), Decimal(HEEL_LB), is_kept=False),
            key=new_key(), acting_user=self.worker,
        )  # fmt: skip


@pytest.fixture
def row(rep, plant_worker):
    return Row(rep, plant_worker)


@pytest.fixture
def three(row):
    return [row.make(f"Customer {name}") for name in "ABC"]


def charged_lb(batch):
    return float(sum(charge.mass_lb for charge in batch.charges.all()))


def used_lb(batch, lot):
    return float(sum(charge.mass_lb for charge in batch.charges.filter(lot=lot)))


def numbers(found):
    return [batch.number for batch in found.batches]


def test_a_lot_is_recalled_from_every_batch_that_carried_its_heel(three):
    (first, lots), (second, _), (third, _) = three
    lot = lots["UAN"]
    found = trace(lot.code)
    assert found.start == Start.LOT
    assert numbers(found) == [first.number, second.number, third.number]
    assert found.customers == ("Customer A", "Customer B", "Customer C")
    assert found.only_by_heel == 2
    one, two, three_ = found.batches
    assert (len(one.uses), one.carried, one.heels) == (1, (), ())
    # By hand: the heel is 100 lb of what the first batch was charged, the lot's share in it.
    carried_lb = HEEL_LB * used_lb(first, lot) / charged_lb(first)
    (into_second,) = two.carried
    assert (two.uses, into_second.lot, into_second.of) == ((), lot, first.number)
    assert float(into_second.lb) == pytest.approx(carried_lb, abs=0.001)
    # Of that, what stayed of the second in the third: a serial dilution.
    (into_third,) = three_.carried
    thinned = carried_lb * HEEL_LB / (charged_lb(second) + HEEL_LB)
    assert float(into_third.lb) == pytest.approx(thinned, abs=0.001)


def test_a_batch_leads_back_through_heels_to_the_lots_of_the_batches_before_it(three):
    (first, of_first), (second, of_second), (third, of_third) = three
    found = trace(third.number)
    assert set(found.lots) == {*of_first.values(), *of_second.values(), *of_third.values()}
    assert numbers(found) == [first.number, second.number, third.number]
    *_, last = found.batches
    assert {use.lot for use in last.uses} == set(of_third.values())
    assert {heel.of for heel in last.heels} == {first.number, second.number}
    assert sum(heel.lb for heel in last.heels) == pytest.approx(HEEL_LB, abs=0.002)
    assert {each.of for each in last.carried} == {first.number, second.number}


def test_a_package_of_the_first_batch_has_nothing_of_the_later_ones(three):
    (first, lots), *_ = three
    found = trace(f"{first.number}-01")
    assert numbers(found) == [first.number]
    assert set(found.lots) == set(lots.values())


def test_a_rinse_ends_what_a_heel_carries(row):
    first, lots = row.make("Customer A")
    row.rinse()
    second, _ = row.make("Customer B")
    assert numbers(trace(lots["UAN"].code)) == [first.number]
    assert numbers(trace(second.number)) == [second.number]


def test_a_lot_on_hold_stops_every_batch_that_carries_it_with_a_heel(three, plant_worker):
    (first, lots), (second, _), (third, of_third) = three
    lot = StockLot.objects.get(pk=lots["UAN"].pk)
    hold_lot(lot=lot, why="Crystals.", acting_user=plant_worker)
    stopped = {first.pk: (lot,), second.pk: (lot,), third.pk: (lot,)}
    assert held_lots([first.pk, second.pk, third.pk]) == stopped
    assert held_lots([third.pk]) == {third.pk: (lot,)}
    with pytest.raises(IllegalMove, match=f"{third.number}.*{lot.code}"):
        require_no_hold([third])
    assert [batch.held_lots for batch in trace(lot.code).batches] == [(lot,)] * 3
    # A heel goes one way only: what went into the last batch stops none before it.
    hold_lot(lot=of_third["UAN"], why="Crystals.", acting_user=plant_worker)
    assert held_lots([first.pk, second.pk]) == {first.pk: (lot,), second.pk: (lot,)}


def test_a_rinsed_tank_carries_no_hold(row, plant_worker):
    _, lots = row.make("Customer A")
    row.rinse()
    second, _ = row.make("Customer B")
    hold_lot(lot=StockLot.objects.get(pk=lots["UAN"].pk), why="Crystals.", acting_user=plant_worker)
    assert held_lots([second.pk]) == {}


def test_a_lot_charged_into_both_counts_apart_from_what_the_heel_brought(row):
    _, lots = row.make("Customer A")
    row.make("Customer B", lots)
    found = trace(lots["UAN"].code)
    _, two = found.batches
    assert (len(two.uses), len(two.carried)) == (1, 1)
    assert found.only_by_heel == 0


def test_page_csv_and_json_show_the_same_pounds(three, signed_in, office):
    (first, lots), (second, _), _ = three
    lot, client = lots["UAN"], signed_in(office)
    carried = trace(lot.code).batches[1].carried[0]
    asked = {"q": lot.code}
    html = client.get(reverse("trace"), asked).content.decode()
    assert f"with the heel of {first.number}" in html
    assert f"{carried.lb.normalize():,}" in html
    assert "2 of the batches only with the heel they were begun on." in html
    rows = list(
        csv.DictReader(
            io.StringIO(client.get(reverse("trace_csv"), asked).content.decode("utf-8-sig"))
        )
    )
    of_second = [row for row in rows if row["batch"] == second.number]
    assert [(row["lb in batch"], row["with heel of batch"]) for row in of_second] == [
        (str(carried.lb), first.number)
    ]
    assert of_second[0]["customer"] == "Customer B"
    answer = client.get(reverse("trace_json"), asked).json()
    assert answer == as_json(trace(lot.code))
    assert answer["batches"][1]["lots_by_heel"] == [
        {"lot": lot.code, "heel_of": first.number, "lb": str(carried.lb)}
    ]
    assert {len(cells) for cells in table(trace(lot.code))} == {len(COLUMNS)}


def test_a_longer_row_of_heels_asks_no_more(three, django_assert_max_num_queries):
    """Each heel names all the batches in it, so a chain is not walked link by link."""
    lot = three[0][1]["UAN"]
    with django_assert_max_num_queries(16):
        list(table(trace(lot.code)))
    counts = []
    for batch, _ in three[1:]:
        with django_assert_max_num_queries(22) as queries:
            list(table(trace(batch.number)))
        counts.append(len(queries))
    assert counts[0] == counts[1]
