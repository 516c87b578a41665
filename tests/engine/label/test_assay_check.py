"""Findings of a laboratory against the guarantees."""

import pytest

from formulas.engine.label.assay_check import Verdict, check_assay
from formulas.engine.problem import BadProblem
from formulas.reference.allowances import allowance_rules

RULES = allowance_rules()


def check(guarantees, found, rule="uniform"):
    return check_assay(guarantees, found, RULES[rule])


def verdicts(result):
    return {nutrient.key: nutrient.verdict.value for nutrient in result.nutrients}


@pytest.mark.parametrize(
    ("rule", "found", "nutrient", "index", "index_verdict"),
    [
        # Worked from Florida Statutes 576.061(1)(b) (0.83 at 28 %) with the index of 98 % of
        # the uniform rule, and from 2VAC5-400-50.A (0.30 + 3 %) with its 97 %.
        ("uniform", 27.20, "within_allowance", 97.14, "deficient"),
        ("uniform", 27.10, "deficient", 96.79, "deficient"),
        ("uniform", 27.44, "within_allowance", 98.00, "meets"),
        ("uniform", 27.17, "within_allowance", 97.04, "deficient"),
        ("uniform", 28.00, "meets", 100.00, "meets"),
        ("VA", 27.20, "within_allowance", 97.14, "meets"),
        ("VA", 26.90, "within_allowance", 96.07, "deficient"),
        ("VA", 26.85, "deficient", 95.89, "deficient"),
        # 3 Pa.C.S. 6808(a): 10 % of 28 is 2.8, capped at 2 units.
        ("PA", 26.00, "within_allowance", 92.86, "deficient"),
        ("PA", 25.99, "deficient", 92.82, "deficient"),
    ],
)
def test_28_percent_nitrogen_found_short(rule, found, nutrient, index, index_verdict):
    result = check({"N": 28}, {"N": found}, rule)
    assert verdicts(result) == {"N": nutrient}
    assert result.index_value_pct == pytest.approx(index, abs=0.005)
    assert result.index_verdict == index_verdict
    assert result.is_deficient is ("deficient" in (nutrient, index_verdict))


@pytest.mark.parametrize(
    ("key", "guarantee", "floor"),
    [
        # From N.H. Agr 1105.04.
        ("Fe", 1.0, 0.895),
        ("Fe", 0.1, 0.085),
        ("Mn", 0.05, 0.040),
        ("B", 0.02, 0.014),
        ("Mo", 0.0005, 0.00025),
    ],
)
def test_the_floor_of_a_micronutrient(key, guarantee, floor):
    at, below = check({key: guarantee}, {key: floor}), check({key: guarantee}, {key: floor * 0.999})
    assert at.nutrients[0].floor == pytest.approx(floor, abs=1e-12)
    assert verdicts(at) == {key: "within_allowance"}
    assert verdicts(below) == {key: "deficient"}
    assert at.index_value_pct is None
    assert at.index_verdict is None


def test_a_guarantee_of_zero_needs_no_finding_and_the_index_counts_only_what_is_guaranteed():
    result = check({"N": 28, "K2O": 0, "Fe": 0.1}, {"N": 27.2, "Fe": 0.09})
    assert verdicts(result) == {"N": "within_allowance", "K2O": "meets", "Fe": "within_allowance"}
    unasked = check({"N": 28}, {"N": 27.2, "K2O": 5.0})
    assert unasked.index_value_pct == result.index_value_pct


def test_the_index_is_the_plain_sum_found_over_the_sum_guaranteed():
    # 8 CCR Colorado Part 2.2; Maine 01-001 CMR ch. 350 section 1(3), (4).
    result = check({"N": 10, "P2O5": 10, "K2O": 10}, {"N": 10.1, "P2O5": 10.2, "K2O": 9.4})
    assert result.index_value_pct == pytest.approx(100 * 29.7 / 30)
    assert result.is_deficient is False


def test_pennsylvania_weighs_the_index_by_commercial_value():
    # 46 Pa.B. 2860: $0.55 N, $0.48 P2O5, $0.41 K2O.
    result = check({"N": 10, "P2O5": 10, "K2O": 10}, {"N": 10.1, "P2O5": 10.2, "K2O": 9.4}, "PA")
    value = 0.55 * 10.1 + 0.48 * 10.2 + 0.41 * 9.4
    assert result.index_value_pct == pytest.approx(100 * value / (0.55 + 0.48 + 0.41) / 10)


def test_virginia_lets_an_overage_make_up_for_one_short_nutrient():
    # 2VAC5-400-50.A: up to 10.0 % of the guarantee, at most 2 units, the total being reached,
    # one nutrient short. Allowance at 10 %: 0.6.
    guarantees = {"N": 10, "P2O5": 10, "K2O": 10}
    made_up = check(guarantees, {"N": 9.1, "P2O5": 10.5, "K2O": 10.5}, "VA")
    assert verdicts(made_up)["N"] == "within_allowance"
    too_short = check(guarantees, {"N": 8.9, "P2O5": 11, "K2O": 11}, "VA")
    total_missed = check(guarantees, {"N": 9.1, "P2O5": 10.4, "K2O": 10.4}, "VA")
    two_short = check(guarantees, {"N": 9.1, "P2O5": 9.9, "K2O": 12}, "VA")
    elsewhere = check(guarantees, {"N": 9.1, "P2O5": 10.5, "K2O": 10.5})
    for other in (too_short, total_missed, two_short, elsewhere):
        assert verdicts(other)["N"] == "deficient"
        assert other.is_deficient


@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        # 2VAC5-400-50.A: 10 % of 28 would be 2.8, but two units is the most; 26 + 12 is just the
        # 38 guaranteed. The allowance alone reaches 28 - 0.3 - 0.84 = 26.86.
        ({"N": 26.0, "K2O": 12.0}, "within_allowance"),
        ({"N": 26.0, "K2O": 11.9}, "deficient"),
        ({"N": 25.9, "K2O": 12.5}, "deficient"),
    ],
)
def test_virginia_makes_up_for_two_units_at_most(found, verdict):
    assert verdicts(check({"N": 28, "K2O": 10}, found, "VA"))["N"] == verdict


def test_what_is_within_its_allowance_needs_no_overage_and_says_nothing_of_one():
    nitrogen = check({"N": 10, "K2O": 10}, {"N": 9.5, "K2O": 11}, "VA").nutrients[0]
    assert nitrogen.verdict is Verdict.WITHIN_ALLOWANCE
    assert "overage" not in nitrogen.note
    short = check({"N": 10, "K2O": 10}, {"N": 9.2, "K2O": 11}, "VA").nutrients[0]
    assert "overage" in short.note


def test_nickel_is_judged_but_said_to_be_unverified():
    nickel, iron = check({"Ni": 0.01, "Fe": 0.1}, {"Ni": 0.007, "Fe": 0.1}).nutrients[::-1]
    assert (nickel.key, nickel.verified, nickel.verdict) == (
        "Ni",
        False,
        Verdict.WITHIN_ALLOWANCE,
    )
    assert iron.verified


def test_without_a_published_allowance_the_guarantee_is_the_floor():
    (humic,) = check({"humic_acid": 6}, {"humic_acid": 5.99}).nutrients
    assert (humic.allowance, humic.floor, humic.verdict) == (None, 6, Verdict.DEFICIENT)
    assert "No published allowance" in humic.note


def test_what_was_not_tested_has_not_passed():
    with pytest.raises(BadProblem) as refusal:
        check({"N": 28, "Fe": 0.1, "X": 1}, {"N": float("nan"), "Y": 1})
    assert {error.field for error in refusal.value.errors} == {
        "guarantees.X",
        "found.N",
        "found.Y",
        "found.Fe",
    }
    with pytest.raises(BadProblem, match="At least one guarantee"):
        check({}, {})
