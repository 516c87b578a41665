"""Limits as in a handbook's example, rules by what they say, spreads as a margin takes them."""

import math

import pytest

from formulas.engine.control.individuals import FEWEST, individuals_chart
from formulas.engine.control.run_rules import Broken, Rule, broken_rules
from formulas.engine.control.spread import Spread, measured_assay, spread_of

#: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2, example of individuals
#: charts (flow rate of ten batches): mean 50.81, mean moving range 1.8778, limits 55.8041 and
#: 45.8159, the process in control. Read in several independent copies of the example.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def _rules(values: list[float]) -> list[tuple[Rule, int, int, bool]]:
    found = broken_rules(values, centre=0.0, sigma=1.0)
    return [(each.rule, each.first, each.last, each.above) for each in found]


def test_limits_are_those_of_the_handbooks_example() -> None:
    chart = individuals_chart(FLOW_RATES)
    assert chart.limits is not None
    assert chart.limits.centre == pytest.approx(50.81, abs=5e-5)
    assert chart.limits.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.limits.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.limits.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.limits.largest_range == pytest.approx(3.267 * 1.8778, abs=2e-4)
    assert chart.broken == ()


def test_too_few_points_claim_no_limits_and_break_no_rule() -> None:
    chart = individuals_chart([1.0] * (FEWEST - 2) + [99.0])
    assert (chart.limits, chart.broken, chart.is_judged) == (None, (), False)
    assert chart.ranges[-1] == 98.0


def test_equal_values_are_in_control() -> None:
    chart = individuals_chart([0.1 + 0.2] * 12)
    assert chart.limits is not None
    assert chart.broken == ()


def test_a_value_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        individuals_chart([1.0, math.nan])


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([0, 0, 3.01, 0], (Rule.BEYOND_THREE, 2, 2)),
        ([0, 2.1, -0.5, 2.2, 0], (Rule.TWO_OF_THREE, 1, 3)),
        ([1.1, 1.2, -0.2, 1.1, 1.3, 0], (Rule.FOUR_OF_FIVE, 0, 4)),
        ([0.1, 0.2, 0.3, 0.2, 0.1, 0.2, 0.3, 0.1, -0.2], (Rule.EIGHT_IN_A_ROW, 0, 7)),
        ([-0.6, -0.4, -0.2, 0.1, 0.3, 0.5, 0.4], (Rule.SIX_TRENDING, 0, 5)),
    ],
)
def test_each_rule_is_seen_on_both_sides(
    values: list[float], expected: tuple[Rule, int, int]
) -> None:
    assert _rules(values) == [(*expected, True)]
    assert _rules([-value for value in values]) == [(*expected, False)]


@pytest.mark.parametrize(
    "values",
    [
        [0, 3.0, 0],
        [2.1, 0, 0, 2.1],
        [2.1, -2.1, 0],
        [2.0, 2.0, 0],
        [1.1, 1.1, 0, 0, 1.1, 1.1],
        [1, 1, 1, 1, 1, 1, 1, -1],
        [0.1, 0.2, 0.3, 0.4, 0.5, 0.5],
    ],
)
def test_what_only_nearly_breaks_a_rule_does_not(values: list[float]) -> None:
    assert _rules(values) == []


def test_a_run_that_goes_on_is_told_once() -> None:
    assert _rules([0.5, 0.4] * 6) == [(Rule.EIGHT_IN_A_ROW, 0, 11, True)]


def test_a_range_beyond_its_limit_is_a_jump_of_both_its_values() -> None:
    chart = individuals_chart([10, 10.1, 10, 10.1, 10, 10.1, 10, 10.1, 10, 9.2, 9.3, 9.2])
    assert Broken(Rule.JUMP, 8, 9, above=False) in chart.broken
    assert Rule.JUMP in chart.rules_at(8)
    assert Rule.JUMP not in chart.rules_at(7)


def test_the_long_term_spread_holds_a_shift_that_the_short_term_one_leaves_out() -> None:
    # Of these eight values the population's standard deviation is 2 around a mean of 5: a
    # common textbook example (from memory, unverified), here with n - 1.
    spread = spread_of([2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0])
    assert spread is not None
    assert spread.mean == 5.0
    assert spread.long_term == pytest.approx(2 * math.sqrt(8 / 7))
    assert spread.long_term_pct == pytest.approx(100 * spread.long_term / 5)
    assert spread.short_term == pytest.approx(1.0 / 1.128)
    assert spread_of([2.0] * (FEWEST - 1)) is None
    assert spread_of([0.0] * FEWEST) is None


def test_contents_become_strength_and_what_total_n_spreads_beyond_it() -> None:
    narrow, wide = Spread(20, 10.0, 0.05, 0.05), Spread(12, 10.0, 0.13, 0.1)
    more = measured_assay({"K2O": narrow, "N": wide})
    assert more is not None
    assert more.strength_rsd_pct == pytest.approx(0.5)
    assert math.hypot(more.strength_rsd_pct, more.total_n_rsd_pct) == pytest.approx(1.3)
    assert more.count == 12
    less = measured_assay({"K2O": wide, "S": narrow, "N": narrow})
    assert less is not None
    assert (less.strength_rsd_pct, less.total_n_rsd_pct) == (pytest.approx(1.3), 0.0)


def test_of_nitrogen_the_total_counts_and_nothing_measured_is_none() -> None:
    narrow, wide = Spread(20, 10.0, 0.05, 0.05), Spread(12, 10.0, 0.13, 0.1)
    only = measured_assay({"N": narrow, "N.urea": wide})
    assert only is not None
    assert (only.strength_rsd_pct, only.total_n_rsd_pct) == (pytest.approx(0.5), 0.0)
    assert measured_assay({"N.urea": wide}) is None
