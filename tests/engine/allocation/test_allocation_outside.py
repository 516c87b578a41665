"""Plans against another solver, all subsets tried one by one, and what must hold of any plan."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pulp
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import (
    NutrientWish,
)
from formulas.engine.allocation.allocating import OrderVerdict, allocate
from formulas.engine.allocation.choice import choose, total_of
from formulas.engine.composition import content_pct
from tests.engine.allocation.allocation_cases import STOCKS, order, plant

CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, threads=1)


def random_plants(partial):
    @st.composite
    def draw_one(draw):
        count = draw(st.integers(1, 5))
        asked = []
        for number in range(count):
            parts = [draw(st.integers(0, 4)) for _ in STOCKS[:4]]
            recipe = {
                stock.code: 100.0 * part / (sum(parts) + 2)
                for stock, part in zip(STOCKS, [*parts, 2], strict=True)
            }
            mix = [(stock, recipe[stock.code] / 100) for stock in STOCKS]
            held = {
                key: sum(share * content_pct(stock.analysis, key) for stock, share in mix)
                for key in ("N", "K2O")
            }
            asked.append(
                order(
                    f"O{number}",
                    100.0 * draw(st.integers(1, 30)),
                    recipe,
                    press=draw(st.sampled_from([10.0, 15.0, 30.0])),
                    may_change=draw(st.booleans()),
                    may_be_partial=partial or draw(st.booleans()),
                    wishes=tuple(NutrientWish(key, 0.9 * pct) for key, pct in held.items()),
                )
            )
        on_hand = {stock.code: 100.0 * draw(st.integers(0, 30)) for stock in STOCKS}
        return asked, on_hand

    return draw_one()


@given(random_plants(partial=False))
def test_no_plan_uses_more_than_is_there_or_makes_more_than_was_asked(question):
    asked, on_hand = question
    plan = allocate(asked, STOCKS, on_hand)
    for stock in plan.stocks:
        used = sum(each.weights_lb.get(stock.code, 0.0) for each in plan.orders)
        assert used <= on_hand[stock.code] + 1e-3
        assert stock.used_lb == pytest.approx(used, abs=1e-3)
    for each, want in zip(plan.orders, asked, strict=True):
        assert each.made_lb == pytest.approx(sum(each.weights_lb.values()), abs=1e-4)
        assert each.made_lb <= want.mass_lb * (1 + 1e-9)
        if not want.may_be_partial:
            assert each.made_lb in (0, pytest.approx(want.mass_lb))
        if not want.may_change:
            assert each.changed_pct is None
        for wish in want.wishes if each.made_lb else ():
            lb = sum(
                each.weights_lb.get(stock.code, 0.0) * content_pct(stock.analysis, wish.nutrient)
                for stock in STOCKS
            )
            assert lb / each.made_lb >= wish.min_pct - 1e-6


def plan_by_cbc(asked, on_hand):
    """The least total by CBC, written in pounds and from the words of the question."""
    model = pulp.LpProblem("allocation", pulp.LpMinimize)
    dearest = max(stock.cost_per_lb for stock in STOCKS)
    total, used = [], {stock.code: [] for stock in STOCKS}
    for o, each in enumerate(asked):
        own = model.add_variable(f"own{o}", 0)
        other = {
            stock.code: model.add_variable(f"x{o}{stock.code}", 0, None if each.may_change else 0)
            for stock in STOCKS
        }
        kind = pulp.LpContinuous if each.may_be_partial else pulp.LpBinary
        unmade = model.add_variable(f"z{o}", 0, 1, kind)
        # In the unit that is ordered: pounds, or gallons, which a change fills by 0.01 % more.
        fills = {stock.code: 1.0 for stock in STOCKS}
        if each.by_volume:
            fills = {stock.code: 1 / stock.density_lb_per_gal for stock in STOCKS}
        of_own = sum(each.recipe[code] / 100 * fill for code, fill in fills.items())
        surplus = 1.0001 if each.by_volume else 1.0
        changed = pulp.lpSum(fills[code] * lb for code, lb in other.items()) / surplus
        size = each.mass_lb * of_own
        model += of_own * own + changed + size * unmade == size
        for wish in each.wishes:
            model += (
                pulp.lpSum(
                    (content_pct(stock.analysis, wish.nutrient) - wish.min_pct) * other[stock.code]
                    for stock in STOCKS
                )
                >= 0
            )
        for stock in STOCKS:
            lb = each.recipe[stock.code] / 100 * own + other[stock.code]
            used[stock.code].append(lb)
            total.append(stock.cost_per_lb * lb)
        total.append((dearest + 0.01) / of_own * changed)
        total.append(each.penalty_per_lb * each.mass_lb * unmade)
    for code, parts in used.items():
        model += pulp.lpSum(parts) <= on_hand[code]
    model += pulp.lpSum(total)
    assert model.solve(CBC) == pulp.LpStatusOptimal
    return pulp.value(model.objective)


@pytest.mark.parametrize("by_volume", [True, False])
@pytest.mark.parametrize("partial", [True, False])
def test_another_solver_finds_the_same_least_total(partial, by_volume):
    """The other solver knows nothing of groups: it has columns of its own for every order."""
    rng = np.random.default_rng(7)
    for _ in range(6):
        asked, on_hand = plant(rng, 5, partial=partial)
        asked = [replace(each, by_volume=by_volume) for each in asked]
        asked += [replace(each, code=f"{each.code} again", mass_lb=700.0) for each in asked[:2]]
        plan = allocate(asked, STOCKS, on_hand)
        assert plan.is_exact
        assert plan.total == pytest.approx(plan_by_cbc(asked, on_hand), rel=1e-6)


@pytest.mark.parametrize("seed", [3, 4])
def test_no_plan_of_another_solver_beats_the_bound_that_is_shown(seed, monkeypatch):
    monkeypatch.setattr("formulas.engine.allocation.choice.MOST_EXACT", 0)
    asked, on_hand = plant(np.random.default_rng(seed), 12, partial=False)
    plan = allocate(asked, STOCKS, on_hand)
    best = plan_by_cbc(asked, on_hand)
    assert not plan.is_exact
    assert plan.bound <= best * (1 + 1e-7)
    assert plan.total >= best * (1 - 1e-7)


@pytest.mark.parametrize("seed", range(6))
def test_the_total_of_a_rounded_plan_is_that_of_its_pounds(seed, monkeypatch):
    """Worked out from the weights, whichever way they were found."""
    asked, on_hand = plant(np.random.default_rng(seed), 6, partial=False)
    held = np.array([on_hand[stock.code] for stock in STOCKS])
    choice = choose(asked, STOCKS, held, ())
    assert choice.is_exact
    assert total_of(choice.use, asked, STOCKS) == pytest.approx(choice.total, rel=1e-6)


def test_all_or_nothing_is_the_best_of_all_subsets_where_recipes_stay():
    rng = np.random.default_rng(11)
    for _ in range(10):
        asked, on_hand = plant(rng, 6, partial=False, may_change=False)
        best = math.inf
        for made in itertools.product((False, True), repeat=len(asked)):
            total, fits = 0.0, True
            for stock in STOCKS:
                lb = sum(
                    each.mass_lb * each.recipe[stock.code] / 100
                    for each, is_made in zip(asked, made, strict=True)
                    if is_made
                )
                fits &= lb <= on_hand[stock.code] + 1e-9
                total += lb * stock.cost_per_lb
            total += sum(
                each.mass_lb * each.penalty_per_lb
                for each, is_made in zip(asked, made, strict=True)
                if not is_made
            )
            if fits:
                best = min(best, total)
        plan = allocate(asked, STOCKS, on_hand)
        assert plan.is_exact
        assert plan.total == pytest.approx(best)


def test_many_all_or_nothing_orders_come_close_to_what_no_plan_can_beat():
    asked, on_hand = plant(np.random.default_rng(3), 60, partial=False)
    plan = allocate(asked, STOCKS, on_hand)
    assert not plan.is_exact
    assert plan.bound < plan.total < 1.05 * plan.bound
    assert {each.verdict for each in plan.orders} >= {
        OrderVerdict.OWN_RECIPE,
        OrderVerdict.NOT_NOW,
    }
    assert OrderVerdict.PARTIAL not in {each.verdict for each in plan.orders}
