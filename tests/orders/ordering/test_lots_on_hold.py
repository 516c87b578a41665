"""A lot put on hold after charging stops its batches and packages until it is let go again."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from blendshop.errors import IllegalMove
from orders.inventory.actions.lot_quality import hold_lot, release_lot
from orders.inventory.actions.lots import transfer_lot, use_lot
from orders.inventory.holds import held_lots
from orders.models import Order, PackageSerial, StockLot, Tank
from orders.ordering.actions import mark_shipped
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot, reverse_charge
from orders.production.actions.packaging import close_batch, fill_packages
from orders.production.steps import batch_steps
from orders.tanks.actions.rinsing import Rinse, record_rinse
from tests.orders.labels.approvals import approve_labels
from tests.orders.ordering.test_board_pages import body, main
from tests.orders.planning.plant_cases import placed_order
from tests.orders.production.charging_cases import (
    charge_all,
    new_key,
    read_density,
    received,
)


@pytest.fixture
def mixed(batch, lots, plant_worker):
    """Charged, mixed and read; ready for release."""
    charge_all(batch, lots, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    return batch


@pytest.fixture
def filled(mixed, plant_worker):
    """Released and filled into its two totes."""
    release_batch(batch=mixed, acting_user=plant_worker)
    fill(mixed, plant_worker)
    return mixed


def fill(batch, by, count=2):
    return fill_packages(
        part=batch.parts.get(), net_lb=[Decimal(2700)] * count, key=new_key(), acting_user=by
    )


def hold(lot, by, why="Crystals at the outlet."):
    return hold_lot(lot=StockLot.objects.get(pk=lot.pk), why=why, acting_user=by)


def let_go(lot, by):
    release_lot(lot=StockLot.objects.get(pk=lot.pk), why="Analysed.", acting_user=by)


def test_a_batch_is_not_released_while_a_lot_in_it_is_on_hold(
    mixed, lots, plant_worker, formulator
):
    hold(lots["UAN"], plant_worker)
    for who in (plant_worker, formulator):
        with pytest.raises(IllegalMove, match=f"{lots['UAN'].code}.*Crystals at the outlet"):
            release_batch(batch=mixed, acting_user=who, why="All the same.")
    let_go(lots["UAN"], formulator)
    release_batch(batch=mixed, acting_user=plant_worker)
    assert mixed.status == "released"


def test_a_released_batch_is_not_filled_while_a_lot_in_it_is_on_hold(
    mixed, lots, plant_worker, formulator
):
    release_batch(batch=mixed, acting_user=plant_worker)
    fill(mixed, plant_worker, 1)
    hold(lots["TRZ"], plant_worker)
    with pytest.raises(IllegalMove, match=lots["TRZ"].code):
        fill(mixed, plant_worker, 1)
    assert PackageSerial.objects.count() == 1
    let_go(lots["TRZ"], formulator)
    fill(mixed, plant_worker, 1)
    assert PackageSerial.objects.count() == 2


def test_an_order_is_not_shipped_with_packages_of_a_lot_on_hold(
    filled, order, lots, plant_worker, formulator, office
):
    hold(lots["KAC"], plant_worker)
    order.refresh_from_db()
    with pytest.raises(IllegalMove, match=f"{filled.number}.*{lots['KAC'].code}"):
        mark_shipped(order=order, acting_user=office, why="The customer waits.")
    assert Order.objects.get(pk=order.pk).status == "made"
    let_go(lots["KAC"], formulator)
    approve_labels(order)
    mark_shipped(order=order, acting_user=office)
    assert order.status == "shipped"


def test_nothing_is_copied_a_lot_nobody_charged_from_stops_nothing(
    filled, order, lots, plant_worker, office
):
    other = received("UAN", plant_worker)
    hold(other, plant_worker)
    assert held_lots([filled.pk]) == {}
    order.refresh_from_db()
    approve_labels(order)
    mark_shipped(order=order, acting_user=office)


def test_a_reversed_charge_takes_the_hold_along(batch, lots, plant_worker):
    water, uan = batch_steps(batch)[:2]
    for step, lot in ((water, None), (uan, lots[uan.code])):
        charge = charge_lot(
            batch=batch, step=step.number, lot=lot, mass_lb=step.target_lb, key=new_key(),
            acting_user=plant_worker,
        )  # fmt: skip
    hold(lots[uan.code], plant_worker)
    assert [lot.code for lot in held_lots([batch.pk])[batch.pk]] == [lots[uan.code].code]
    reverse_charge(charge=charge, why="Another lot.", key=new_key(), acting_user=plant_worker)
    assert held_lots([batch.pk]) == {}


def test_a_hold_reaches_the_batch_through_a_split_and_a_used_up_lot(
    batch, lots, plant_worker, formulator
):
    need = next(step.target_lb for step in batch_steps(batch) if step.code == "UAN")
    part = transfer_lot(
        lot=lots["UAN"], mass_lb=need, location="Day tank", acting_user=plant_worker, key=new_key()
    )
    charge_all(batch, {**lots, "UAN": part}, plant_worker)
    mark_made(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    assert StockLot.objects.get(pk=part.pk).state == "exhausted"
    hold(lots["UAN"], plant_worker)
    with pytest.raises(IllegalMove, match=part.code):
        release_batch(batch=batch, acting_user=plant_worker)
    # Each split is let go by itself: it is the part that went into the tank.
    let_go(part, formulator)
    release_batch(batch=batch, acting_user=plant_worker)


def test_a_hold_reaches_a_batch_through_rinse_water(
    filled, lots, rep, company, plant_worker, formulator
):
    """The rinse of one batch goes into the next as its water's lot would: by the ledger."""
    close_batch(batch=filled, why="Test.", key=new_key(), acting_user=plant_worker)
    rinse = record_rinse(
        tank=filled.tank,
        batch=filled,
        rinse=Rinse(water_lb=Decimal(400), residue_lb=Decimal(80), is_kept=True),
        key=new_key(),
        acting_user=plant_worker,
    )
    let_go(rinse.lot, formulator)
    revision = filled.parts.get().order_line.revision
    order = placed_order(rep, company, quantity=2, revision=revision)
    (later,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    use_lot(
        lot=rinse.lot, mass_lb=Decimal(100), batch=later, acting_user=plant_worker, key=new_key()
    )
    hold(lots["UAN"], plant_worker)
    found = held_lots([later.pk, filled.pk])
    assert {pk: [lot.code for lot in lots] for pk, lots in found.items()} == {
        later.pk: [lots["UAN"].code],
        filled.pk: [lots["UAN"].code],
    }
    assert set(held_lots([later.pk])) == {later.pk}


def test_every_page_of_it_names_the_lot(
    filled, order, lots, plant_worker, office, customer, formulator, signed_in
):
    pages = {
        "batch_detail": [filled.number],
        "batch_quality": [filled.number],
        "batch_packages": [filled.number],
        "order_detail": [order.number],
    }
    client, lot = signed_in(plant_worker), lots["UAN"]
    words = f"{lot.code} ({lot.stock.name}) is on hold: Crystals at the outlet."
    lists = {
        "order_board": {},
        "batch_list": {"status": "all"},
        "trace": {"q": filled.number},
    }

    def shown():
        found = {
            route: main(body(client.get(reverse(route, args=args))))
            for route, args in pages.items()
        }
        return found | {
            route: main(body(client.get(reverse(route), asked))) for route, asked in lists.items()
        }

    assert not any("on hold" in html for html in shown().values())
    hold(lot, plant_worker)
    for route, html in shown().items():
        said = f"{lot.code} on hold" if route == "trace" else words
        assert said in html, route
    assert "Mark as shipped" not in main(body(signed_in(office).get(
        reverse("order_detail", args=[order.number])
    )))  # fmt: skip
    own = body(signed_in(customer).get(reverse("order_detail", args=[order.number])))
    assert "on hold" not in own
    let_go(lot, formulator)
    client.get(reverse("batch_list"))
    assert not any("on hold" in html for html in shown().values())


def test_the_release_page_offers_no_release_while_a_lot_is_on_hold(
    mixed, lots, plant_worker, formulator, signed_in
):
    address = reverse("batch_quality", args=[mixed.number])
    client = signed_in(formulator)
    assert "Release this batch" in body(client.get(address))
    hold(lots["UAN"], plant_worker)
    html = body(client.get(address))
    assert "Release" not in html.split("Readings taken")[0].split("<h1")[1]
    answer = client.post(reverse("batch_release", args=[mixed.number]), {"why": "x"})
    assert answer.status_code == 409
    assert lots["UAN"].code in answer.content.decode()


def test_the_board_costs_the_same_queries_however_much_is_on_hold(
    filled, lots, plant_worker, signed_in, django_assert_num_queries
):
    client = signed_in(plant_worker)
    board = reverse("order_board")
    first, *others = lots.values()
    hold(first, plant_worker)
    body(client.get(board))
    with CaptureQueriesContext(connection) as of_one:
        body(client.get(board))
    for lot in others:
        hold(lot, plant_worker)
    with django_assert_num_queries(len(of_one)):
        body(client.get(board))
