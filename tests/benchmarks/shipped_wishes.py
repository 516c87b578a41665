"""Random wishes of lawn fertilizer on the shipped catalogue at its invented costs; fixed seed."""

import numpy as np

from formulas import reference
from formulas.engine import BlendProblem, NutrientWish, SlowReleaseWish, Solved, Stock, solve
from formulas.engine.density.solutes import solute_of
from formulas.engine.plant.load import FineScale, LoadQuestion, LoadScale
from formulas.engine_bridge import shipped_rules
from formulas.reference.facts import CostUnit

LB_PER_TON = 2000.0


def shipped_stocks():
    cost_of = {cost.stock: cost for cost in reference.demo_costs()}
    stocks = []
    for facts in reference.base_stocks():
        cost = cost_of[facts.code]
        per_lb = {
            CostUnit.LB: float(cost.cost),
            CostUnit.TON: float(cost.cost) / LB_PER_TON,
            CostUnit.GAL: float(cost.cost) / facts.density_lb_per_gal,
        }[cost.per]
        stocks.append(
            Stock(
                facts.code,
                facts.name,
                facts.density_lb_per_gal,
                per_lb,
                dict(facts.analysis),
                min_pct=facts.min_pct,
                max_pct=facts.max_pct,
                traits=facts.traits,
                scale_step_lb=facts.scale_step_lb,
                charging_rank=facts.charging_rank,
                solutes=_solutes(facts),
            )
        )
    return tuple(stocks)


def _solutes(facts):
    known = {of: solute_of(of.formula) for of in facts.made_of}
    return {found.key: of.pct for of, found in known.items()} if all(known.values()) else {}


def random_load(rng, stocks, rules):
    """A wish as a rep types it, and the load it is made in."""
    n = float(rng.integers(8, 29))
    windows = [None, None, 1.0, 0.5, 0.25]
    window = windows[rng.integers(len(windows))]
    wishes = [NutrientWish("N", n, None if window is None else n + window)]
    if rng.random() < 0.6:
        wishes.append(NutrientWish("K2O", float(rng.integers(1, 7))))
    if rng.random() < 0.3:
        wishes.append(NutrientWish("P2O5", float(rng.integers(1, 5))))
    elif rng.random() < 0.5:
        wishes.append(NutrientWish("P2O5", None, 0.67))
    if rng.random() < 0.5:
        wishes.append(NutrientWish("Fe", float(rng.choice([0.05, 0.1, 0.2, 0.5]))))
    if rng.random() < 0.2:
        wishes.append(NutrientWish("Mn", 0.05))
    slow = float(rng.choice([0.0, 25.0, 30.0, 50.0]))
    problem = BlendProblem(
        stocks, tuple(wishes), SlowReleaseWish(slow) if slow else None, rules=rules
    )
    scales = (LoadScale(), LoadScale(5.0, FineScale(0.1, 100.0)), LoadScale(2.0), LoadScale(1.0))
    return LoadQuestion(
        problem,
        volume_gal=float(rng.choice([265.0, 530.0, 1000.0, 2000.0])),
        scale=scales[rng.integers(len(scales))],
    )


def loads_in_reach(count, seed):
    """So many questions that the plain optimum answers."""
    rng, stocks, rules = np.random.default_rng(seed), shipped_stocks(), shipped_rules()
    found = []
    while len(found) < count:
        question = random_load(rng, stocks, rules)
        if isinstance(solve(question.problem, explain=False), Solved):
            found.append(question)
    return found
