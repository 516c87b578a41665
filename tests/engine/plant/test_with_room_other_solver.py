"""The least cost of a plan with room, by CBC through PuLP: a process of its own, no code of ours.

The program is written anew from the question: whole divisions, whole tolerances, every promise
at its worst corner.
"""

import numpy as np
import pulp
import pytest

from formulas.engine import BlendProblem, NutrientWish, StockLimit
from formulas.engine.composition import content_pct
from formulas.engine.plant.load import LoadQuestion, LoadScale
from formulas.engine.plant.with_room import plan_with_room
from tests.engine.lawn_stocks import FEDTA, HUM, KACE, KTHIO25, UREA, WATER

CBC = pulp.COIN_CMD(path=pulp.PULP_CBC_CMD.pulp_cbc_path, msg=False, gapRel=0.0, threads=1)


def random_load(seed):
    """Potash, iron and humic acid in windows; no nitrogen is wished, so no label is aimed at."""
    rng = np.random.default_rng(seed)
    k2o, iron = float(rng.integers(2, 8)), float(rng.choice([0.1, 0.2, 0.4]))
    problem = BlendProblem(
        (UREA, KACE, KTHIO25, FEDTA, HUM, WATER),
        (
            NutrientWish("K2O", k2o, k2o + float(rng.choice([0.2, 0.4]))),
            NutrientWish("Fe", iron, iron * 1.5),
            NutrientWish("humic_acid", float(rng.choice([0.5, 1.0])), None),
            NutrientWish("S", None, float(rng.choice([0.3, 0.8, 9.0]) * k2o)),
        ),
        stock_limits=(StockLimit("UREA", 10.0),),
    )
    step = float(rng.choice([1.0, 2.0, 5.0]))
    return LoadQuestion(problem, float(rng.choice([265.0, 600.0])), scale=LoadScale(step))


def cost_by_cbc(question, codes, tau):
    """Least dollars of a load of these stocks with this tolerance."""
    stocks = [stock for stock in question.problem.stocks if stock.code in codes]
    d = question.scale.step_lb
    model = pulp.LpProblem("load", pulp.LpMinimize)
    k = {s.code: model.add_variable(f"k_{s.code}", 2, None, "Integer") for s in stocks}
    m = {s.code: model.add_variable(f"m_{s.code}", 1, None, "Integer") for s in stocks}
    model += pulp.lpSum(s.cost_per_lb * d * k[s.code] for s in stocks)
    for s in stocks:
        # The next whole number above tau k - 1 is tau k rounded down.
        model += m[s.code] >= tau * k[s.code] - 1 + 1e-6

    def worst(over):
        """A row at its worst corner, in divisions."""
        return pulp.lpSum(over(s) * k[s.code] - abs(over(s)) * m[s.code] for s in stocks)

    for wish in question.problem.wishes:
        if wish.min_pct is not None:
            model += worst(lambda s, w=wish: content_pct(s.analysis, w.nutrient) - w.min_pct) >= 0
        if wish.max_pct is not None:
            model += worst(lambda s, w=wish: w.max_pct - content_pct(s.analysis, w.nutrient)) >= 0
    for limit in question.problem.stock_limits:
        model += worst(lambda s, x=limit: 100.0 * (s.code == x.code) - x.min_pct) >= 0
    model += worst(lambda s: 40.0 - 100.0 * (s.code == "HUM")) >= 0
    volume = worst(lambda s: d / s.density_lb_per_gal)
    model += volume >= question.volume_gal
    status = model.solve(CBC)
    assert pulp.LpStatus[status] == "Optimal"
    return pulp.value(model.objective)


@pytest.mark.parametrize("seed", range(25))
def test_cbc_finds_no_cheaper_load(seed):
    question = random_load(seed)
    planned = plan_with_room(question)
    codes = {step.code for step in planned.steps}
    least = cost_by_cbc(question, codes, planned.tolerance_pct / 100.0)
    # No cheaper than the least; dearer only by what the search may leave (and a fixed tolerance).
    assert planned.cost >= least - 1e-6
    assert planned.cost == pytest.approx(least, rel=2e-5)
