"""What room costs, and how long it takes to plan with it. Two hundred wishes, always the same.

    pytest tests/benchmarks/test_load_plan_rooms.py --benchmark-enable --benchmark-only -s

The shipped catalogue at its invented costs. The baseline of time is the plain plan (the optimum
and its scale-ready weights) of the same wishes in the same run. That no draw misses is a pass or
a fail; the rest is printed.
"""

import statistics
import time
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
import pytest

from formulas.engine import Fill, scale_ready, solve
from formulas.engine.label.guarantee import LabelBasis, draft_label
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import plan_with_room
from tests.benchmarks.figures import ms, ratio
from tests.benchmarks.shipped_wishes import loads_in_reach
from tests.engine.plant.load_draws import draws, misses, scale_faults

WISHES, SEED, DRAWS = 200, 1, 100


def report(line):
    print(f"\n{line}")  # noqa: T201 - the point of a benchmark


@dataclass
class Measured:
    question: object
    planned: object
    plan_s: float
    plain_s: float
    plain_cost_per_gal: float
    plain_misses: float


@pytest.fixture(scope="module")
def measured():
    found = []
    for number, question in enumerate(loads_in_reach(WISHES, SEED)):
        start = time.process_time()
        try:
            planned = plan_with_room(question)
        except NotWeighable:
            planned = None
        between = time.process_time()
        blend = solve(question.problem).blend
        plain = plain_weights(question, blend)
        end = time.process_time()
        found.append(
            Measured(
                question,
                planned,
                between - start,
                end - between,
                blend.cost_per_lb * blend.density_lb_per_gal,
                share_of_misses(question, plain, number) if plain else 0.0,
            )
        )
    return found


def plain_weights(question, blend):
    """The plain plan on the same main scale, None where it has none."""
    step = question.scale.step_lb
    stocks = tuple(
        stock if step is None else replace(stock, scale_step_lb=step)
        for stock in question.problem.stocks
    )
    try:
        return scale_ready(stocks, blend, Fill(question.volume_gal), guarantees=question.problem)
    except NotWeighable:
        return None


@dataclass
class _Step:
    code: str
    weight_lb: float
    tolerance_lb: float


@dataclass
class _Plain:
    steps: list
    least_pct: dict
    most_pct: dict
    least_gal: float = 0.0


def share_of_misses(question, ready, seed):
    """Draws within the wanted tolerance, at least a division, that miss a wish of a plain plan."""
    stocks = {stock.code: stock for stock in question.problem.stocks}
    step = question.scale.step_lb
    steps = [
        _Step(
            each.code,
            each.weight_lb,
            max(
                step or stocks[each.code].scale_step_lb,
                question.tolerance_pct / 100 * each.weight_lb,
            ),
        )
        for each in ready.weights
    ]
    plain = _Plain(steps, {}, {})
    wishes_only = replace(question, volume_gal=0.0)
    rng = np.random.default_rng(seed)
    return statistics.mean(bool(misses(wishes_only, plain, lb)) for lb in draws(plain, rng, DRAWS))


def test_no_weight_on_target_misses(benchmark, measured):
    missed = drawn = 0
    for number, each in enumerate(measured):
        if each.planned is None:
            continue
        assert list(scale_faults(each.question, each.planned)) == []
        for lb in draws(each.planned, np.random.default_rng(number), DRAWS):
            missed += bool(misses(each.question, each.planned, lb))
            drawn += 1
    planned = [each for each in measured if each.planned is not None]
    wanted = sum(each.planned.tolerance_pct == each.question.tolerance_pct for each in planned)
    report(
        f"{len(planned)} of {len(measured)} wishes planned, {wanted} at the wanted tolerance; "
        f"{missed} of {drawn:,} draws on target miss (of the plain plans "
        f"{100 * statistics.mean(each.plain_misses for each in measured):.0f} %)"
    )
    assert missed == 0
    benchmark.pedantic(lambda: plan_with_room(measured[0].question), rounds=3)


def test_what_the_room_costs(benchmark, measured):
    planned = [each for each in measured if each.planned is not None]
    extra = [
        100 * each.planned.room_cost_per_gal / each.plain_cost_per_gal
        for each in planned
        if each.plain_cost_per_gal > 0
    ]
    report(
        f"room costs {statistics.mean(extra):.2f} % per gallon on average, median "
        f"{statistics.median(extra):.2f} %, worst {max(extra):.2f} %; largest gap of a search "
        f"{max(each.planned.gap for each in planned):.1e}"
    )
    ratio("room_cost_pct_per_gal_mean", statistics.mean(extra))
    ratio("room_cost_pct_per_gal_worst", max(extra))
    benchmark.pedantic(lambda: plan_with_room(measured[0].question), rounds=3)


def test_what_the_labels_print(benchmark, measured):
    decimals, short = [], 0
    for each in measured:
        if each.planned is None:
            continue
        least = {key: pct for key, pct in each.planned.least_pct.items() if key != "N"}
        wished = {w.nutrient: w.min_pct for w in each.question.problem.wishes if w.min_pct}
        density = each.planned.density_lb_per_gal
        draft = draft_label(LabelBasis(least, "specialty", (), density, 1.0, promised=wished))
        lines = {line.key: line for line in draft.guarantees}
        decimals += [len(line.printed.partition(".")[2]) for line in lines.values()]
        short += lines["N"].pct != Decimal(str(wished["N"]))
    report(
        f"lines print {statistics.mean(decimals):.1f} decimals on average, {max(decimals)} at "
        f"most; {short} labels print another total nitrogen than wished"
    )
    assert short == 0
    benchmark.pedantic(lambda: plan_with_room(measured[0].question), rounds=3)


def test_how_long_it_takes(benchmark, measured):
    ratios = [each.plan_s / each.plain_s for each in measured if each.planned is not None]
    usual_ms = 1000 * statistics.median(each.plan_s for each in measured)
    report(
        f"planning with room takes {statistics.median(ratios):.1f} x a plain plan (median), "
        f"{max(ratios):.1f} x at most; {usual_ms:.0f} ms"
    )
    ratio("load_plan_to_plain_plan_median_of_200", statistics.median(ratios))
    ratio("load_plan_to_plain_plan_worst_of_200", max(ratios))
    ms("load_plan_median_of_200", usual_ms)
    ms("load_plan_worst_of_200", 1000 * max(each.plan_s for each in measured))
    benchmark.pedantic(lambda: plan_with_room(measured[0].question), rounds=3)
