"""Published least-cost problems with a published optimum, stated as blends.

The engine knows plant nutrients, so each published component borrows one of our keys; the
arithmetic does not care about the name.
"""

import numpy as np
import pytest

from formulas.engine import BlendProblem, NutrientWish, solve
from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import Limits, Program
from tests.engine.lawn_stocks import shares, stock


def test_feed_mix_of_two_ingredients_and_a_filler():
    """R package limSolve, help page "Blending": ingredient 1 0.5909, 2 0.1364, filler 0.2727.

    https://search.r-project.org/CRAN/refmans/limSolve/html/Blending.html
    Nutrients A, B, C, D in g/kg, at least 80, 50, 25 and 5; costs 40, 60 and 0 a kg.
    """
    one = stock("ONE", 10.0, 40.0, {"N.urea": 10.0, "P2O5": 5.0, "K2O": 4.0, "S": 1.0})
    two = stock("TWO", 10.0, 60.0, {"N.urea": 20.0, "P2O5": 15.0, "K2O": 1.0})
    filler = stock("FILLER", 10.0, 0.0, {})
    wishes = tuple(
        NutrientWish(key, least)
        for key, least in {"N.urea": 8.0, "P2O5": 5.0, "K2O": 2.5, "S": 0.5}.items()
    )
    blend = solve(BlendProblem((one, two, filler), wishes)).blend
    expected = {"ONE": 59.09, "TWO": 13.64, "FILLER": 27.27}
    assert shares(blend) == pytest.approx(expected, abs=0.005)


def test_animal_feed_of_corn_limestone_and_soybean_meal():
    """Manning liveBook "Optimization Algorithms" 2.1.4: 65 % corn, 3 % limestone, 32 % soybean
    meal, $0.4916 per kg.

    https://livebook.manning.com/learn/concepts/pulp--library/optimization-algorithms
    Calcium 0.8 to 1.2 %, protein at least 22 %, fibre at most 5 % (restrictions as printed at
    brainmass.com, "Linear programming for optimization", 209960); costs 30.5, 10 and 90 cents.
    """
    corn = stock("CORN", 10.0, 0.305, {"Ca": 0.1, "N.urea": 9.0, "S": 2.0})
    limestone = stock("LIMESTONE", 10.0, 0.10, {"Ca": 38.0})
    soybean = stock("SOYBEAN", 10.0, 0.90, {"Ca": 0.2, "N.urea": 50.0, "S": 8.0})
    blend = solve(
        BlendProblem(
            (corn, limestone, soybean),
            (NutrientWish("Ca", 0.8, 1.2), NutrientWish("N", 22.0), NutrientWish("S", None, 5.0)),
        )
    ).blend
    expected = {"CORN": 65.0, "LIMESTONE": 3.0, "SOYBEAN": 32.0}
    assert shares(blend) == pytest.approx(expected, abs=0.5)
    assert blend.cost_per_lb == pytest.approx(0.4916, abs=0.00005)


def test_canned_food_of_six_ingredients():
    """PuLP case study "A Blending Problem": 60 % beef and 40 % gel at $0.52 per 100 g.

    https://coin-or.github.io/pulp/CaseStudies/a_blending_problem.html (data as copied in
    gist.github.com/death/9b1be6ce8b34eb771c1d2ba6ef28210f; the optimum is from memory,
    unverified). Protein at least 8, fat at least 6, fibre at most 2, salt at most 0.4 %.
    """
    table = {
        "CHICKEN": (0.013, 10.0, 8.0, 0.1, 0.2),
        "BEEF": (0.008, 20.0, 10.0, 0.5, 0.5),
        "MUTTON": (0.010, 15.0, 11.0, 0.3, 0.7),
        "RICE": (0.002, 0.0, 1.0, 10.0, 0.2),
        "WHEAT": (0.005, 4.0, 1.0, 15.0, 0.8),
        "GEL": (0.001, 0.0, 0.0, 0.0, 0.0),
    }
    stocks = tuple(
        stock(code, 10.0, cost, {"N.urea": protein, "P2O5": fat, "S": fibre, "Na": salt})
        for code, (cost, protein, fat, fibre, salt) in table.items()
    )
    wishes = (
        NutrientWish("N", 8.0),
        NutrientWish("P2O5", 6.0),
        NutrientWish("S", None, 2.0),
        NutrientWish("Na", None, 0.4),
    )
    blend = solve(BlendProblem(stocks, wishes)).blend
    assert shares(blend) == pytest.approx({"BEEF": 60.0, "GEL": 40.0})
    assert 100 * blend.cost_per_lb == pytest.approx(0.52)


def test_two_fertilizers_for_240_kg():
    """School text (goprep.co, class 12, Q15): 30 kg of A and 210 kg of B, cost 1980.

    A holds 12 % N and 5 % phosphoric acid at 10 a kg, B 4 % and 5 % at 8; needed are 12 kg of
    each nutrient, so 240 kg in all (5 % phosphoric acid in either), 5 % N.
    """
    a = stock("A", 10.0, 10.0, {"N.urea": 12.0, "P2O5": 5.0})
    b = stock("B", 10.0, 8.0, {"N.urea": 4.0, "P2O5": 5.0})
    blend = solve(BlendProblem((a, b), (NutrientWish("N", 5.0), NutrientWish("P2O5", 5.0)))).blend
    pct = shares(blend)
    assert 2.4 * pct["A"] == pytest.approx(30.0)
    assert 2.4 * pct["B"] == pytest.approx(210.0)
    assert 240 * blend.cost_per_lb == pytest.approx(1980.0)


def test_two_chemicals_for_a_bag():
    """Solved textbook exercise (justaaa.com, advanced-math 245137): x = 4, y = 2, cost 22.

    min 3x + 5y, 10x + 2y >= 20, 6x + 6y >= 36, y >= 2. Not a blend (no fixed total), so it is
    put to the solver's door.
    """
    program = Program(
        cost=np.array([3.0, 5.0]),
        A=np.array([[10.0, 2.0], [6.0, 6.0], [0.0, 1.0]]),
        limits=Limits(
            np.array([20.0, 36.0, 2.0]), np.full(3, np.inf), np.zeros(2), np.full(2, np.inf)
        ),
        integer=np.zeros(2, dtype=bool),
    )
    optimum = Session(program).run()
    assert optimum.x == pytest.approx([4.0, 2.0])
    assert optimum.objective == pytest.approx(22.0)
