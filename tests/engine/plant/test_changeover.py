"""What a heel meets, and the order of batches that needs the fewest flushes."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem, CompatibilityRule, Effect
from formulas.engine.plant.changeover import (
    CarryOverKind,
    CarryOverPreference,
    TankBatch,
    UnknownContents,
    carry_over,
    changeover_plan,
)
from formulas.engine.plant.changeover_order import (
    MOST_EXACT,
    exact_order,
    heuristic_order,
    ordering,
    path_cost,
)
from tests.engine.lawn_stocks import FES, HUM, KACE, KTHIO25, RULES, TRIAZONE, UAN32, WATER

SLOW_AFTER_QUICK = CarryOverPreference(
    "nitrate", "urea_triazone", 0.5, "Quick nitrogen lowers the slow share.", "demo"
)


def batch(code, *stocks, gallons=500.0):
    shares = tuple(100.0 / len(stocks) for _ in stocks)
    return TankBatch(code, f"Blend {code}", tuple(stocks), shares, gallons)


GREEN = batch("green", TRIAZONE, WATER)
IRON = batch("iron", FES, WATER)
GREEN_TOO = batch("green too", TRIAZONE, WATER)
IRON_TOO = batch("iron too", FES, WATER)
QUICK = batch("quick", UAN32, WATER)
POTASH = batch("potash", KTHIO25, WATER)
HUMIC = batch("humic", HUM, WATER)


def test_a_forbidden_pair_in_heel_and_batch_calls_for_a_flush_in_words():
    change = carry_over(IRON, GREEN, RULES, heel_gal=12)
    assert change.needs_flush
    (meeting,) = change.meetings
    assert (meeting.before, meeting.after) == ("FES", "TRIAZONE")
    assert change.words.startswith("12 gal of Blend iron are left in the tank; flush before")
    assert "Iron drops out" in change.words
    assert meeting.source == "common practice, no source"


def test_a_rule_works_in_both_directions():
    assert carry_over(GREEN, IRON, RULES, heel_gal=12).needs_flush


def test_a_tank_that_drains_dry_carries_nothing_over():
    change = carry_over(IRON, GREEN, RULES, heel_gal=0)
    assert not change.meetings
    assert change.cost == 0
    assert "drains dry" in change.words


def test_the_same_blend_needs_no_flush():
    both = batch("both", FES, TRIAZONE)  # forbidden, but no news to itself
    assert not carry_over(both, replace(both, code="again"), RULES, heel_gal=12).meetings


def test_a_pair_that_already_lives_in_the_next_batch_is_no_news():
    mixed = batch("mixed", UAN32, KTHIO25)
    assert carry_over(QUICK, POTASH, RULES, heel_gal=12).meetings
    assert not carry_over(QUICK, mixed, RULES, heel_gal=12).meetings


def test_a_stock_with_no_share_is_not_there():
    ghost = TankBatch("ghost", "Ghost", (FES, WATER), (0.0, 100.0), 500.0)
    assert not carry_over(ghost, GREEN, RULES, heel_gal=12).meetings


def test_a_jar_test_pair_asks_for_a_jar_and_not_for_a_flush():
    change = carry_over(POTASH, QUICK, RULES, heel_gal=12)
    assert [meeting.kind for meeting in change.meetings] == [CarryOverKind.JAR_TEST]
    assert not change.needs_flush
    assert "jar test with Blend quick first" in change.words


@pytest.mark.parametrize(("heel_gal", "flush"), [(2.0, False), (40.0, True)])
def test_a_limit_is_judged_on_the_mixture(heel_gal, flush):
    limit = CompatibilityRule(
        "humic", "urea_triazone", Effect.LIMIT, "Why.", "demo", largest_pct=1.0
    )
    # 2 gal of a half humic heel in 500 gal is 0.2 % humic, 40 gal is about 3.4 %.
    change = carry_over(HUMIC, GREEN, (limit,), heel_gal=heel_gal)
    assert change.needs_flush is flush
    if not flush:
        assert "no rule asks for a flush" in change.words


def test_the_heel_is_weighed_with_its_own_density():
    change = carry_over(batch("a", UAN32), batch("b", WATER, gallons=100), RULES, heel_gal=10)
    assert change.heel_pct == pytest.approx(100 * 110.6 / (110.6 + 834.0))


def test_a_preference_costs_and_is_told_but_forces_nothing():
    change = carry_over(QUICK, GREEN, RULES, heel_gal=12, preferences=[SLOW_AFTER_QUICK])
    assert change.cost == 0.5
    assert "lowers the slow share" in change.words
    assert not change.needs_flush
    assert not carry_over(GREEN, QUICK, RULES, heel_gal=12, preferences=[SLOW_AFTER_QUICK]).cost
    alike = batch("alike", UAN32, TRIAZONE)
    again = replace(alike, code="again")
    assert not carry_over(alike, again, RULES, heel_gal=9, preferences=[SLOW_AFTER_QUICK]).cost


def test_the_order_with_the_fewest_flushes_is_suggested():
    plain = batch("plain", KACE, WATER)
    asked = [IRON, GREEN, replace(IRON, code="iron 2"), replace(GREEN, code="green 2"), plain]
    plan = changeover_plan(asked, RULES, heel_gal=12)
    assert plan.flushes_as_given == 3
    # The potash batch stands between the iron batches and the others.
    assert plan.flushes == 0
    assert plan.order[2] == "plain"
    assert sorted(plan.order) == sorted(each.code for each in asked)
    assert plan.is_exact
    assert len(plan.steps) == 4


def test_what_was_in_the_tank_counts():
    plan = changeover_plan([IRON, GREEN], RULES, heel_gal=12, last=replace(GREEN, code="was"))
    assert plan.order == ("green", "iron")
    assert [step.before for step in plan.steps] == ["was", "green"]
    assert (plan.flushes, plan.flushes_as_given) == (1, 2)


def test_the_asked_order_stays_where_none_is_better():
    asked = [batch(str(n), KACE, WATER) for n in (3, 1, 2)]
    assert changeover_plan(asked, RULES, heel_gal=12).order == ("3", "1", "2")


def test_no_batches_and_one_batch_are_orders_too():
    assert changeover_plan([], RULES, heel_gal=12).order == ()
    one = changeover_plan([IRON], RULES, heel_gal=12, last=GREEN)
    assert one.order == ("iron",)
    assert one.flushes == 1


def matrices(largest):
    @st.composite
    def draw_one(draw):
        n = draw(st.integers(2, largest))
        numbers = st.sampled_from([0.0, 1.0, 2.0, 1000.0, 1001.0])
        cost = np.array(draw(st.lists(numbers, min_size=n * n, max_size=n * n))).reshape(n, n)
        return cost, np.array(draw(st.lists(numbers, min_size=n, max_size=n)))

    return draw_one()


@given(matrices(6))
def test_the_exact_order_is_the_cheapest_of_all(question):
    cost, start = question
    everything = min(
        path_cost(order, cost, start) for order in itertools.permutations(range(len(start)))
    )
    exact = exact_order(cost, start)
    assert sorted(exact) == list(range(len(start)))
    assert path_cost(exact, cost, start) == everything
    assert ordering(cost, start).cost == everything


@given(matrices(9))
def test_the_heuristic_is_an_order_and_never_beats_the_exact_one(question):
    cost, start = question
    found = heuristic_order(cost, start)
    assert sorted(found) == list(range(len(start)))
    assert path_cost(exact_order(cost, start), cost, start) <= path_cost(found, cost, start)


def random_plants(count, n, seed):
    """Matrices like a plant's: about a third of the changes need a flush, some a jar test."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        cost = np.where(rng.random((n, n)) < 0.35, 1000.0, 0.0) + rng.integers(0, 4, (n, n))
        yield cost, np.where(rng.random(n) < 0.35, 1000.0, 0.0)


def test_the_heuristic_needs_hardly_ever_a_flush_more_than_the_exact_order():
    """Measured over 100 random plants of nine batches; the figures stand in the assertion."""
    more_flushes = same = 0
    for cost, start in random_plants(100, 9, seed=1):
        best = path_cost(exact_order(cost, start), cost, start)
        found = path_cost(heuristic_order(cost, start), cost, start)
        more_flushes += found // 1000 > best // 1000
        same += found == best
    assert more_flushes <= 2
    assert same >= 80


def test_neither_turning_nor_moving_a_stretch_improves_what_the_heuristic_finds():
    rng = np.random.default_rng(5)
    for _ in range(3):
        # Distances in a plane: there a crossing is undone by turning a stretch round.
        place = rng.uniform(0, 1, (26, 2))
        cost = np.linalg.norm(place[:, None] - place[None], axis=2)
        start = rng.uniform(0, 1, 26)
        order = heuristic_order(cost, start)
        at = path_cost(order, cost, start)
        for i, j in itertools.combinations(range(27), 2):
            turned = order[:i] + order[i:j][::-1] + order[j:]
            assert path_cost(turned, cost, start) >= at - 1e-9
            rest = order[:i] + order[i + 1 :]
            if i < 26:
                moved = (*rest[:j], order[i], *rest[j:])
                assert path_cost(moved, cost, start) >= at - 1e-9


def test_of_unknown_contents_nothing_is_said_but_to_look_or_rinse():
    change = carry_over(UnknownContents(), GREEN, RULES, heel_gal=12)
    assert change.needs_look
    assert [meeting.kind for meeting in change.meetings] == [CarryOverKind.LOOK]
    assert change.words == (
        "What is in the tank is not known: look into it and sign, or rinse it, before Blend green."
    )


def test_contents_with_a_name_and_no_stocks_ask_for_a_jar_test_whatever_follows():
    for after in (GREEN, IRON):
        change = carry_over(UnknownContents("sample run"), after, RULES, heel_gal=12)
        assert not change.needs_look
        assert [meeting.kind for meeting in change.meetings] == [CarryOverKind.JAR_TEST]
        assert "sample run is in the tank and its stocks are not known" in change.words


def test_unknown_contents_never_decide_the_order_and_stand_before_it():
    batches = [GREEN, IRON, GREEN_TOO, IRON_TOO]
    known = changeover_plan(batches, RULES, heel_gal=12)
    plan = changeover_plan(batches, RULES, heel_gal=12, last=UnknownContents())
    assert (plan.order, plan.flushes) == (known.order, known.flushes) == (plan.order, 1)
    assert plan.steps[0].needs_look
    assert not any(step.needs_look for step in plan.steps[1:])


def test_what_is_in_the_tank_is_judged_by_its_own_amount():
    """200 gal left are no 12 gal: the share of the heel by weight follows the tank."""
    plan = changeover_plan([IRON], RULES, heel_gal=12, last=GREEN, last_gal=200.0)
    heel_lb = 200 * GREEN.lb_per_gal
    batch_lb = IRON.volume_gal * IRON.lb_per_gal
    assert plan.steps[0].heel_pct == pytest.approx(100 * heel_lb / (heel_lb + batch_lb))
    assert "200 gal of Blend green are left" in plan.steps[0].words


def test_many_batches_are_ordered_by_the_heuristic():
    ((cost, start),) = random_plants(1, MOST_EXACT + 6, seed=3)
    found = ordering(cost, start)
    assert not found.is_exact
    assert sorted(found.order) == list(range(len(start)))
    assert found.cost < path_cost(range(len(start)), cost, start)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"heel_gal": -1.0}, "heel_gal"),
        ({"heel_gal": math.nan}, "heel_gal"),
        ({"before": replace(IRON, volume_gal=0.0)}, "batches.0.volume_gal"),
        ({"before": replace(IRON, pct=(50.0, 40.0))}, "batches.0.pct"),
        ({"before": replace(IRON, pct=(100.0,))}, "batches.0.pct"),
        ({"before": replace(IRON, stocks=(FES, FES))}, "batches.0.stocks.0.code"),
    ],
)
def test_wrong_input_is_refused_by_field(changed, field):
    asked = {"before": IRON, "heel_gal": 12.0} | changed
    with pytest.raises(BadProblem) as refused:
        carry_over(asked["before"], GREEN, RULES, heel_gal=asked["heel_gal"])
    assert field in [error.field for error in refused.value.errors]


@pytest.mark.parametrize(
    ("cost", "start"), [(np.zeros((2, 3)), np.zeros(2)), (np.full((2, 2), np.nan), np.zeros(2))]
)
def test_a_wrong_matrix_is_refused(cost, start):
    with pytest.raises(BadProblem, match="cost"):
        ordering(cost, start)
