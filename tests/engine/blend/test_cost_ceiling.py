"""A gallon at most so dear, against programs and grids that know nothing of the engine's rows."""

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog, minimize

from formulas.engine import BlendProblem, NutrientWish, OutOfReach, SlowReleaseWish, Solved, solve
from formulas.engine.density import blend_density_lb_per_gal
from formulas.engine.density.mixing import volume_gal
from formulas.engine.problem import CostCeiling, Per
from formulas.engine.result import Share
from formulas.engine.wishes import WishKind, relaxed_problem
from tests.engine.lawn_stocks import SUMMER, UREA, stock

#: Published solutes of the trade's UAN 32 and of urea liquor, so that mixing contracts.
UAN = stock("UAN", 11.06, 0.17, {"N.urea": 16.0, "N.nitrate": 8.0, "N.ammoniacal": 8.0},
            solutes={"urea": 34.3, "NH4NO3": 45.7})  # fmt: skip
CARBONATE = stock("CARB", 12.8, 0.45, {"K2O": 32.0}, solutes={"K2CO3": 47.0})
WATER = stock("WATER", 8.337, 0.0, {}, "water", solutes={})
CONTRACTING = BlendProblem(
    (UAN, CARBONATE, replace(UREA, cost_per_lb=0.16, solutes={"urea": 49.3}), WATER),
    (NutrientWish("N", 15.0), NutrientWish("K2O", 4.0)),
)


def per_gal(blend):
    return blend.cost_per_lb * blend.density_lb_per_gal


def capped(problem, dollars):
    return replace(problem, cost_ceiling=CostCeiling(dollars))


# --- Ideal mixing: linear in the shares, so scipy can say it all ---------------------------------


def rows_of(problem):
    """Wishes as ``A x <= 0`` over shares that need not add up to anything: homogeneous."""
    stocks, rows = problem.stocks, []
    for wish in problem.wishes:
        content = np.array([_content(s, wish.nutrient) for s in stocks])
        if wish.min_pct is not None:
            rows.append(wish.min_pct - content)
        if wish.max_pct is not None:
            rows.append(content - wish.max_pct)
    slow = problem.slow_release
    if slow is not None:
        n = np.array([_content(s, "N") for s in stocks])
        slowly = np.array([s.analysis.get("N.slow", 0.0) for s in stocks])
        rows.append(slow.min_pct / 100 * n - slowly)
    for i, each in enumerate(stocks):
        rows.append(np.eye(len(stocks))[i] - each.max_pct / 100)
    return np.array(rows)


def _content(each, key):
    return sum(v for k, v in each.analysis.items() if k == key or k.startswith(f"{key}."))


def least_per_gal(problem):
    """Charnes and Cooper (1962): the volume is 1 gallon, so the cost is a cost per gallon."""
    gal = [1 / s.density_lb_per_gal for s in problem.stocks]
    cost, rows = [s.cost_per_lb for s in problem.stocks], rows_of(problem)
    found = linprog(cost, A_ub=rows, b_ub=np.zeros(len(rows)), A_eq=[gal], b_eq=[1.0])
    return found.fun


def most_n(problem, dollars):
    """Most total N among the recipes of at most so many dollars a gallon; None if there is none."""
    row = [s.cost_per_lb - dollars / s.density_lb_per_gal for s in problem.stocks]
    rows = np.vstack([rows_of(problem), row])
    found = linprog(
        [-_content(s, "N") for s in problem.stocks],
        A_ub=rows, b_ub=np.zeros(len(rows)), A_eq=[np.ones(len(problem.stocks))], b_eq=[1.0],
    )  # fmt: skip
    return -found.fun if found.status == 0 else None


@pytest.mark.parametrize("part", [1.2, 1.02, 1.001, 0.999, 0.9])
def test_the_strongest_for_the_money_is_that_of_another_program(part):
    plain = replace(SUMMER, rules=(), strongest="N")
    dollars = round(part * least_per_gal(plain), 4)
    answer, most = solve(capped(plain, dollars)), most_n(plain, dollars)
    assert isinstance(answer, Solved) is (most is not None) is (part > 1)
    if most is not None:
        assert answer.blend.analysis["N"] == pytest.approx(most, abs=1e-3)
        assert round(per_gal(answer.blend), 4) <= dollars


# --- Contraction: every recipe of a grid, at the volume it really has ----------------------------


def grid(step):
    """Shares of three stocks in steps; the rest is water."""
    parts = [p for p in product(range(0, 100, step), repeat=3) if sum(p) <= 100]
    codes = [s.code for s in CONTRACTING.stocks]
    return [dict(zip(codes, (*p, 100 - sum(p)), strict=True)) for p in parts]


def tried(shares):
    """Contents and cost per gallon of one recipe."""
    stocks = {s.code: s for s in CONTRACTING.stocks}
    used = [Share(code, pct) for code, pct in shares.items() if pct]
    density = blend_density_lb_per_gal(stocks, used)
    cost = sum(stocks[u.code].cost_per_lb * u.pct / 100 for u in used)
    n, k2o = (
        sum(_content(stocks[u.code], key) * u.pct / 100 for u in used) for key in ("N", "K2O")
    )
    return n, k2o, cost * density


@cache
def all_tried():
    """Worked out for the tests that look at them, not for whoever reads this module."""
    return [tried(shares) for shares in grid(2)]


@pytest.mark.parametrize("dollars", [1.40, 1.55, 1.70, 2.0])
@pytest.mark.parametrize("aim", [{"strongest": "N"}, {"cheapest_per": Per.GAL}])
def test_no_recipe_of_a_grid_is_better_or_possible_where_none_is(aim, dollars):
    answer = solve(capped(replace(CONTRACTING, **aim), dollars))
    kept = [(n, cost) for n, k2o, cost in all_tried() if n >= 15 and k2o >= 4 and cost <= dollars]
    if isinstance(answer, OutOfReach):
        assert not kept
        return
    assert round(per_gal(answer.blend), 4) <= dollars
    if "strongest" in aim:
        assert all(n <= answer.blend.analysis["N"] + 1e-6 for n, _ in kept)
    else:
        assert all(cost >= per_gal(answer.blend) - 1e-6 for _, cost in kept)


#: Salts that contract or swell with one another.
MOVING = (
    UAN,
    CONTRACTING.stocks[2],
    stock("KCL", 9.6, 0.12, {"K2O": 13.8}, solutes={"KCl": 21.8}),
    stock("AMS", 10.2, 0.14, {"N.ammoniacal": 8.0, "S": 9.0}, solutes={"(NH4)2SO4": 38.0}),
    CARBONATE,
    WATER,
)


def random_wish(seed):
    """Costs and minima that differ from seed to seed; even seeds nearly tie by the gallon."""
    rng = np.random.default_rng(seed)
    if seed % 2:
        costs = [s.cost_per_lb * rng.uniform(0.4, 2.0) for s in MOVING]
    else:
        costs = [1.5 / s.density_lb_per_gal * rng.uniform(0.99, 1.01) for s in MOVING]
    stocks = tuple(
        replace(s, cost_per_lb=round(float(cost), 5)) for s, cost in zip(MOVING, costs, strict=True)
    )
    wishes = (
        NutrientWish("N", round(float(rng.uniform(1, 15)), 1)),
        NutrientWish("K2O", round(float(rng.uniform(0.5, 4)), 1)),
    )
    return BlendProblem(stocks, wishes, strongest="N"), float(rng.uniform(1.0005, 1.03)), rng


def outside_search(problem, aim, rng, dollars=None):
    """scipy's SLSQP from many recipes, at the volume each really has: the least of ``aim``."""
    stocks = problem.stocks
    rows = np.array([[_content(s, w.nutrient) for s in stocks] for w in problem.wishes])
    least = np.array([w.min_pct for w in problem.wishes])
    cost = np.array([s.cost_per_lb for s in stocks])
    limits = [
        {"type": "eq", "fun": lambda x: x.sum() - 1},
        {"type": "ineq", "fun": lambda x: rows @ x - least},
    ]
    if dollars is not None:
        limits.append({"type": "ineq", "fun": lambda x: dollars * volume_gal(stocks, x) - cost @ x})
    found = np.inf
    for begin in rng.dirichlet(np.full(len(stocks), 0.5), size=8):
        tried = minimize(
            aim, begin, method="SLSQP", bounds=[(0, 1)] * len(stocks), constraints=limits
        )
        kept = min(np.min(np.atleast_1d(each["fun"](tried.x))) for each in limits[1:])
        if tried.success and kept > -1e-8:
            found = min(found, aim(tried.x))
    return found


@pytest.mark.parametrize("seed", [3, 8, 11, 106])
def test_the_strongest_for_the_money_is_that_of_a_search_at_true_volumes(seed):
    problem, part, rng = random_wish(seed)
    cost = np.array([s.cost_per_lb for s in problem.stocks])
    n_pct = np.array([_content(s, "N") for s in problem.stocks])
    least = outside_search(problem, lambda x: cost @ x / volume_gal(problem.stocks, x), rng)
    dollars = round(least * part + 0.0005, 4)
    answer = solve(capped(problem, dollars))
    most = -outside_search(problem, lambda x: -(n_pct @ x), rng, dollars)
    assert isinstance(answer, Solved)
    assert round(per_gal(answer.blend), 4) <= dollars
    assert answer.blend.analysis["N"] >= most - 1e-3


def test_it_is_missed_only_below_what_the_cheapest_gallon_costs():
    cheapest = per_gal(solve(replace(CONTRACTING, cheapest_per=Per.GAL)).blend)
    assert isinstance(solve(capped(CONTRACTING, cheapest)), Solved)
    missed = solve(capped(CONTRACTING, cheapest - 0.001))
    assert isinstance(missed, OutOfReach)
    (reach,) = [each for each in missed.reach if each.wish.kind is WishKind.COST_PER_GAL]
    assert reach.best == pytest.approx(cheapest, abs=1.1e-4)
    assert reach.best >= cheapest


def test_each_of_a_conflict_is_needed_and_each_reach_can_be_had():
    asked = capped(replace(SUMMER, slow_release=SlowReleaseWish(50.0)), 3.0)
    missed = solve(asked)
    assert WishKind.COST_PER_GAL in {wish.kind for wish in missed.conflict}
    for each in missed.reach:
        if each.best is not None:
            assert isinstance(solve(relaxed_problem(asked, [(each.wish, each.best)])), Solved)
    for each in missed.alternatives:
        moves = [(relaxed.wish, relaxed.to) for relaxed in each.relaxed]
        ceiling = relaxed_problem(asked, moves).cost_ceiling
        assert round(per_gal(each.blend), 4) <= ceiling.max_per_gal


@pytest.mark.parametrize("dollars", [1.40, 1.45])
def test_reach_beside_a_ceiling_is_that_of_the_grid(dollars):
    """How strong it could be for the money, the row drawn where that recipe is."""
    missed = solve(capped(replace(CONTRACTING, wishes=(NutrientWish("N", 30.0),)), dollars))
    (reach,) = [each for each in missed.reach if each.wish.key == "N"]
    assert reach.best >= max(n for n, _, cost in all_tried() if cost <= dollars) - 1e-4


def test_a_dearer_gallon_saves_by_what_its_dual_says():
    """Strength kept at the most, the cost per lb falls with a cent more a gallon, or stays."""
    asked = replace(CONTRACTING, cheapest_per=Per.LB_N)
    dollars = per_gal(solve(asked).blend) - 0.03
    answer = solve(capped(asked, dollars))
    (price,) = [s for s in answer.sensitivities if s.wish.kind is WishKind.COST_PER_GAL]
    assert price.cost_per_unit < 0
