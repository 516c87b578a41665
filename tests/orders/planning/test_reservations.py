"""Orders reserve stock; available is the usable rest; short stocks say when and how much."""

from datetime import timedelta
from decimal import Decimal

import pytest

from formulas.contracts.formulation import formulate
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import hold_lot
from orders.inventory.actions.lots import use_lot
from orders.inventory.levels import limits_from_stock, purchases, stock_levels
from orders.models import Order, StockReservation, Tank
from orders.ordering.actions import cancel_order, mark_shipped, set_due_date
from orders.planning.actions.planning import plan_batches
from orders.planning.actions.reservations import reserve_for_order
from orders.production.actions.batches import cancel_batch, release_batch
from tests.factories import in_days, today
from tests.orders.inventory.stock_cases import make_lot, new_key, plan
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import (
    WISH,
    accepted_order,
    placed_order,
    save_half_slow,
)
from tests.orders.production.charging_cases import (
    charged_and_made,
    drained,
    made_uncharged,
    read_density,
)


def needed(order, code):
    return sum(
        row.needed_lb
        for row in StockReservation.objects.filter(order_line__order=order, stock__code=code)
    )


def level(code):
    return next(found for found in stock_levels(today()) if found.stock.code == code)


def stock(code):
    return BaseStock.objects.get(code=code)


def test_a_placed_order_reserves_every_stock_of_its_recipe_by_weight(order):
    line = order.lines.get()
    shares = {row.stock.code: row.pct for row in line.revision.lines.all()}
    found = {row.stock.code: float(row.needed_lb) for row in line.reservations.all()}
    assert found == pytest.approx(
        {code: line.mass_lb * pct / 100 for code, pct in shares.items()}, abs=0.001
    )
    assert sum(found.values()) == pytest.approx(line.mass_lb, abs=0.005)
    assert all(found[code] >= line.mass_lb * pct / 100 - 1e-6 for code, pct in shares.items())


def test_an_accepted_quote_reserves_too_and_reserving_again_changes_nothing(shop, rep, company):
    order = accepted_order(rep, company)
    before = list(StockReservation.objects.values_list("order_line", "stock", "needed_lb"))
    assert before
    reserve_for_order(order)
    assert before == list(StockReservation.objects.values_list("order_line", "stock", "needed_lb"))


def test_available_is_what_is_usable_less_what_is_reserved(order, plant_worker):
    uan = stock("UAN")
    make_lot(uan, plant_worker, 5000)
    make_lot(uan, plant_worker, 700, held_reason="Not tested.")
    make_lot(
        uan,
        plant_worker,
        300,
        received_on=today() - timedelta(9),
        expires_on=today() - timedelta(1),
    )
    found = level("UAN")
    assert (found.on_hand, found.held, found.expired, found.usable) == (6000, 700, 300, 5000)
    assert found.reserved == needed(order, "UAN")
    assert found.available == 5000 - needed(order, "UAN")


def test_a_held_and_expired_lot_is_counted_once(shop, plant_worker, formulator):
    lot = make_lot(
        stock("UAN"),
        plant_worker,
        300,
        received_on=today() - timedelta(9),
        expires_on=today() - timedelta(1),
    )
    hold_lot(lot=lot, why="Old.", acting_user=plant_worker)
    found = level("UAN")
    assert (found.on_hand, found.held, found.expired, found.usable) == (300, 300, 0, 0)


def test_a_cancelled_order_gives_its_stock_back(order, office):
    assert level("UAN").reserved > 0
    cancel_order(order=order, acting_user=office, why="Customer changed its mind.")
    assert all(found.reserved == 0 for found in stock_levels(today()))


def test_what_a_batch_uses_is_no_longer_reserved(order, plant_worker):
    lot = make_lot(stock("UAN"), plant_worker, 20_000)
    batch = plan(order, plant_worker)[0]
    before = level("UAN")
    use_lot(lot=lot, mass_lb=400, batch=batch, acting_user=plant_worker, key=new_key())
    after = level("UAN")
    assert (before.reserved - after.reserved, before.usable - after.usable) == (400, 400)
    assert after.available == before.available


def test_a_batch_that_took_more_than_planned_reserves_nothing_below_zero(order, plant_worker):
    lot = make_lot(stock("UAN"), plant_worker, 90_000)
    batch = plan(order, plant_worker)[0]
    use_lot(lot=lot, mass_lb=80_000, batch=batch, acting_user=plant_worker, key=new_key())
    assert level("UAN").reserved == 0


def test_a_made_batch_ends_its_share_of_the_reservation(shop, rep, company, plant_worker):
    """Eight totes are two loads; one made leaves half of the need, whatever it really took."""
    order = placed_order(rep, company, quantity=8)
    whole = needed(order, "UAN")
    first, second = plan(order, plant_worker)
    assert first.parts.get().quantity == second.parts.get().quantity == 4
    assert level("UAN").reserved == whole
    charged_and_made(first, plant_worker)
    assert level("UAN").reserved == pytest.approx(whole / 2, abs=Decimal("0.001"))
    drained(first.tank, plant_worker)
    charged_and_made(second, plant_worker)
    assert not [found for found in stock_levels(today()) if found.reserved]


def test_a_batch_that_is_thrown_away_has_to_be_made_again(order, plant_worker):
    lot = make_lot(stock("UAN"), plant_worker, 20_000)
    whole = needed(order, "UAN")
    batch = plan(order, plant_worker)[0]
    use_lot(lot=lot, mass_lb=400, batch=batch, acting_user=plant_worker, key=new_key())
    made_uncharged(batch, plant_worker)
    assert level("UAN").reserved == 0
    cancel_batch(batch=batch, acting_user=plant_worker, why="Wrong colour, disposed of.")
    found = level("UAN")
    assert (found.reserved, found.on_hand) == (whole, 19_600)


def test_a_shipped_order_reserves_nothing(order, plant_worker):
    batch = plan(order, plant_worker)[0]
    made_uncharged(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    order = Order.objects.get(pk=order.pk)
    approve_labels(order)
    mark_shipped(order=order, acting_user=plant_worker, why="no serials in this test")
    assert not [found for found in stock_levels(today()) if found.reserved]


def test_water_from_the_main_never_runs_out_but_water_kept_in_lots_does(
    shop, rep, company, plant_worker
):
    weak = {**WISH, "targets": [{"nutrient": "N", "min": 10}]}
    order = placed_order(rep, company, revision=save_half_slow(rep, company, "Weak", weak))
    assert needed(order, "WATER") > 0
    make_lot(stock("UAN"), plant_worker, 1)
    assert "WATER" not in {found.stock.code for found in stock_levels(today())}
    make_lot(stock("WATER"), plant_worker, 10)
    assert level("WATER").short_lb == needed(order, "WATER") - 10


def test_a_short_stock_says_the_day_it_runs_out_and_what_to_buy_by_when(
    shop, rep, company, office, plant_worker
):
    blend = save_half_slow(rep, company)
    late, soon, middle = (placed_order(rep, company, revision=blend) for _ in range(3))
    for order, days in ((late, 30), (soon, 3), (middle, 12)):
        set_due_date(order=order, acting_user=office, due_on=in_days(days))
    one = needed(soon, "TRZ")
    assert one > 0
    make_lot(stock("TRZ"), plant_worker, one + 100)
    found = level("TRZ")
    assert found.runs_out_on == in_days(12)
    assert [(need.order_number, need.lb) for need in found.uncovered] == [
        (middle.number, one - 100),
        (late.number, one),
    ]
    [buy] = [buy for buy in purchases(today()) if buy.stock.code == "TRZ"]
    assert (buy.by, buy.lb) == (in_days(12), 2 * one - 100)
    # Bought and received, it is short no longer.
    make_lot(stock("TRZ"), plant_worker, buy.lb)
    assert level("TRZ").runs_out_on is None
    assert level("TRZ").available == 0
    assert "TRZ" not in {buy.stock.code for buy in purchases(today())}


def test_a_held_lot_does_not_cover_an_order(order, plant_worker):
    lot = make_lot(stock("UAN"), plant_worker, 90_000)
    assert level("UAN").runs_out_on is None
    hold_lot(lot=lot, why="Being tested.", acting_user=plant_worker)
    assert level("UAN").runs_out_on == order.due_on
    assert level("UAN").short_lb == needed(order, "UAN")


def test_the_most_urgent_purchase_stands_first(shop, rep, company, plant_worker, office):
    blend = save_half_slow(rep, company)
    order = placed_order(rep, company, revision=blend)
    urgent = placed_order(rep, company, revision=blend)
    set_due_date(order=urgent, acting_user=office, due_on=in_days(1), why="promised")
    make_lot(stock("KAC"), plant_worker, needed(urgent, "KAC"))
    days = [buy.by for buy in purchases(today())]
    assert days == sorted(days)
    assert {buy.stock.code: buy.by for buy in purchases(today())} == {
        "UAN": in_days(1),
        "TRZ": in_days(1),
        "KAC": order.due_on,
    }


def test_a_plant_that_keeps_no_lots_is_not_told_to_buy_everything(order):
    assert purchases(today()) == []


def test_the_levels_cost_the_same_number_of_queries_however_many_orders_there_are(
    shop, rep, company, plant_worker, django_assert_num_queries
):
    for code in ("UAN", "TRZ", "KAC"):
        make_lot(stock(code), plant_worker, 90_000)
    blend = save_half_slow(rep, company)
    for _ in range(3):
        placed_order(rep, company, revision=blend)
    with django_assert_num_queries(6):
        stock_levels(today())


def test_only_what_we_have_never_asks_for_more_than_is_available(order, plant_worker):
    """Held and reserved pounds are not offered; the answer of the engine keeps to the rest."""
    free = {"UAN": 900, "TRZ": 1800, "KAC": 400}
    for code, lb in free.items():
        make_lot(stock(code), plant_worker, needed(order, code) + lb)
        make_lot(stock(code), plant_worker, 5000, held_reason="Being tested.")
    catalogue = load_catalogue(today())
    limits = limits_from_stock(catalogue, 265, today())
    assert {row["code"] for row in limits} <= {"UAN", "TRZ", "KAC", "FES"}
    assert {"code": "FES", "max_pct": 0.0} in limits  # never received: there is none
    answer = formulate({**WISH, "stock_limits": limits}, catalogue=catalogue).answer.contract_json()
    assert answer["status"] == "solved"
    taken = {row["code"]: row["lb"] for row in answer["recipe"]}
    assert all(taken[code] <= lb for code, lb in free.items())


def test_a_blend_that_needs_more_than_there_is_is_out_of_reach(shop, plant_worker):
    make_lot(stock("UAN"), plant_worker, 5000)
    make_lot(stock("KAC"), plant_worker, 5000)
    make_lot(stock("TRZ"), plant_worker, 200)
    catalogue = load_catalogue(today())
    limits = limits_from_stock(catalogue, 265, today())
    assert formulate({**WISH, "stock_limits": limits}, catalogue=catalogue).answer.status == (
        "out_of_reach"
    )


def test_the_blends_own_density_gives_the_last_pounds_free(shop, plant_worker):
    make_lot(stock("KAC"), plant_worker, 1000)
    make_lot(stock("UAN"), plant_worker, 100_000)
    catalogue = load_catalogue(today())

    def share(**density):
        limits = {row["code"]: row for row in limits_from_stock(catalogue, 265, today(), **density)}
        return limits["KAC"]["max_pct"]

    # 11.06 lb/gal is the densest stock on hand (UAN).
    assert share() == pytest.approx(100 * 1000 / (265 * 11.06))
    assert share(density_lb_per_gal=10.0) == pytest.approx(100 * 1000 / 2650)


def test_planning_does_not_change_what_is_reserved(order, plant_worker):
    before = {found.stock.code: found.reserved for found in stock_levels(today())}
    plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    assert {found.stock.code: found.reserved for found in stock_levels(today())} == before
