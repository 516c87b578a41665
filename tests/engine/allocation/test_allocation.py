"""Orders share what is there: never more than is on hand, what presses first, guarantees kept."""

from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import (
    NutrientWish,
)
from formulas.engine.allocation.allocating import OrderVerdict, allocate, penalty_per_lb
from formulas.engine.allocation.program import allocation_program
from tests.engine.allocation.allocation_cases import GOOD, STOCKS, by_code, order, plenty
from tests.engine.lawn_stocks import (
    UAN32,
)


def test_with_plenty_on_hand_every_order_keeps_its_recipe():
    asked = [
        order("A", 1000.0, {"UAN32": 50.0, "WATER": 50.0}, may_change=True,
              wishes=(NutrientWish("N", 15.0),)),
        order("B", 2000.0, {"KACE": 25.0, "WATER": 75.0}),
    ]  # fmt: skip
    plan = allocate(asked, STOCKS, plenty())
    assert [each.verdict for each in plan.orders] == [OrderVerdict.OWN_RECIPE] * 2
    assert plan.is_exact
    assert plan.orders[0].weights_lb == pytest.approx({"UAN32": 500, "WATER": 500})
    # 1,000 lb x $0.085 and 2,000 lb x $0.1375.
    assert plan.total == pytest.approx(85 + 275)
    assert all(stock.short_lb == 0 for stock in plan.stocks)


def test_of_two_orders_for_one_stock_the_more_pressing_is_made():
    asked = [
        order("later", 100.0, {"UAN32": 60.0, "WATER": 40.0}, press=20.0),
        order("now", 100.0, {"UAN32": 60.0, "WATER": 40.0}, press=21.0),
    ]
    plan = by_code(allocate(asked, STOCKS, plenty() | {"UAN32": 100.0}))
    assert plan["now"].verdict is OrderVerdict.OWN_RECIPE
    assert plan["later"].verdict is OrderVerdict.NOT_NOW
    # 40 lb stay; the order needs 60.
    assert plan["later"].missing_lb == pytest.approx({"UAN32": 20})
    assert plan["later"].weights_lb == {}


def test_an_order_is_made_in_part_only_if_it_allows_it():
    recipe = {"UAN32": 60.0, "WATER": 40.0}
    held = plenty() | {"UAN32": 30.0}
    whole = allocate([order("A", 100.0, recipe)], STOCKS, held).orders[0]
    part = allocate([order("A", 100.0, recipe, may_be_partial=True)], STOCKS, held).orders[0]
    assert (whole.verdict, whole.made_lb) == (OrderVerdict.NOT_NOW, 0)
    assert part.verdict is OrderVerdict.PARTIAL
    assert part.made_lb == pytest.approx(50)
    assert part.missing_lb == pytest.approx({"UAN32": 30})


def test_what_has_no_entry_on_hand_is_not_there():
    asked = [order("A", 100.0, {"UAN32": 100.0})]
    assert allocate(asked, STOCKS, {}).orders[0].verdict is OrderVerdict.NOT_NOW


def test_penalties_rise_with_priority_and_as_the_due_date_nears():
    far, near, due, late = (penalty_per_lb(0.5, 1.0, days) for days in (60, 7, 0, -7))
    assert far < near < due < late
    assert penalty_per_lb(0.5, 2.0, 7) == 2 * near
    assert due == pytest.approx(2 * 10 * 0.51)


def test_a_stocks_own_minimum_binds_no_open_order():
    eager = (replace(UAN32, min_pct=10.0), *STOCKS[1:])
    asked = order("A", 100.0, {"WATER": 100.0}, may_change=True)
    assert allocate([asked], eager, plenty()).orders[0].made_lb == 100


def test_only_changeable_orders_bring_columns_of_their_own():
    stay, may = GOOD, replace(GOOD, may_change=True, wishes=(NutrientWish("N", 20.0),))
    held = np.zeros(len(STOCKS))
    # Two columns and a row an order, five of each stock and a wish for the changeable one.
    assert allocation_program([stay], STOCKS, held, ()).shape == (1 + 5, 2)
    assert allocation_program([stay, may], STOCKS, held, ()).shape == (2 + 1 + 5, 4 + 5)


def test_orders_alike_share_the_columns_of_their_recipe():
    may = replace(GOOD, may_change=True, wishes=(NutrientWish("N", 20.0),))
    held = np.zeros(len(STOCKS))
    alike = [may, replace(may, mass_lb=7.0, penalty_per_lb=30.0)]
    other = replace(may, wishes=(NutrientWish("N", 21.0),))
    # Two orders: one more column for the share not made.
    assert allocation_program(alike, STOCKS, held, ()).shape == (2 + 5, 3 + 5)
    assert allocation_program([may, other], STOCKS, held, ()).shape == (4 + 5, 4 + 10)
