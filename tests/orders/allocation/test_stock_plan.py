"""Scarce stock is shared in a plan: what presses first, and nothing twice."""

from decimal import Decimal

import pytest

from formulas.models import BaseStock
from orders.allocation.shown_plan import work_out_plan
from tests.factories import today
from tests.orders.allocation.stock_plan_cases import need, rows, stock_up
from tests.orders.inventory.stock_cases import make_lot, plan


def test_with_enough_of_everything_every_order_is_made_as_ordered(two, formulator):
    stock_up(formulator, UAN=90_000, TRZ=90_000, KAC=90_000)
    page = work_out_plan(today())
    assert rows(page) == {two[0].number: "full", two[1].number: "full"}
    assert (page.changed, page.purchases) == ((), ())


def test_without_any_lot_nothing_is_known_and_nothing_planned(two):
    page = work_out_plan(today())
    assert (page.keeps_lots, page.orders, page.digest) == (False, (), "")


def test_the_earlier_order_gets_what_is_there_and_the_lack_is_counted_once(two, formulator):
    one = need(two[0], "KAC")
    stock_up(formulator, UAN=90_000, TRZ=90_000, KAC=one * Decimal("1.25"))
    page = work_out_plan(today())
    assert rows(page) == {two[0].number: "full", two[1].number: "waits"}
    (buy,) = page.purchases
    assert buy.code == "KAC"
    assert buy.buy_lb == pytest.approx(float(one) * 0.75, rel=1e-3)
    assert buy.buy_by == two[1].due_on
    assert [row.number for row in page.orders] == [two[0].number, two[1].number]
    assert page.orders[1].lines[0].missing[0].code == "KAC"


def test_what_a_planned_batch_still_takes_is_not_shared_again(two, formulator, plant_worker):
    one = need(two[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=90_000, KAC=90_000)
    plan(two[1], plant_worker)
    page = work_out_plan(today())
    assert rows(page) == {two[0].number: "waits"}
    assert {each.code for each in page.committed} == {"UAN", "TRZ", "KAC"}
    assert not page.committed_short


def test_planned_batches_that_lack_stock_are_named(two, formulator, plant_worker):
    stock_up(formulator, UAN=10, TRZ=90_000, KAC=90_000)
    plan(two[1], plant_worker)
    (short,) = work_out_plan(today()).committed_short
    assert short.code == "UAN"
    assert short.lb == pytest.approx(float(need(two[1], "UAN")) - 10, rel=0.02)


def test_held_lots_are_not_planned_with(two, formulator):
    stock_up(formulator, TRZ=90_000, KAC=90_000)
    make_lot(BaseStock.objects.get(code="UAN"), formulator, 90_000, held_reason="Cloudy.")
    assert set(rows(work_out_plan(today())).values()) == {"waits"}
