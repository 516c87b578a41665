"""The law as wishes: a blend the solver finds under them is legal where it is sprayed."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from law_cases import PACKS

from formulas.engine import BlendProblem, NutrientWish, Solved, Stock, solve
from formulas.engine.law import (
    Circumstances,
    Status,
    Topic,
    Verdict,
    at_n_rate,
    check_application,
    wishes_for,
)

#: Made-up stocks with prices that tempt the solver away from slow release and towards phosphate.
STOCKS = (
    Stock("UREA", "Urea solution", 9.5, 0.10, {"N.urea": 23.0}),
    Stock("TRIAZONE", "Urea-triazone solution", 10.7, 0.60, {"N.urea": 8.0, "N.slow": 20.0}),
    Stock("SUSPENSION", "Insoluble suspension", 10.9, 0.90, {"N.urea": 5.0, "N.insoluble": 23.0}),
    Stock("APP", "Ammonium polyphosphate", 11.6, 0.03, {"N.ammoniacal": 10.0, "P2O5": 34.0}),
    Stock("WATER", "Water", 8.34, 0.0, {}, traits=frozenset({"water"})),
)
RESTING = Circumstances(professional=True, soil_test_shows_p_need=False, new_lawn=False,
                        repair=False, trained_golf=False, grass="tall_fescue")  # fmt: skip
NEEDY = Circumstances(professional=True, soil_test_shows_p_need=True, soil_test_age_months=6.0,
                      p2o5_earlier_this_year_lb=0.0, grass="tall_fescue")  # fmt: skip
BLEND_TOPICS = {
    Topic.TOTAL_N, Topic.READILY_AVAILABLE_N, Topic.SLOW_SHARE, Topic.PHOSPHORUS, Topic.P2O5_RATE,
}  # fmt: skip


def blend_under(wishes, n_pct):
    own = [NutrientWish("N", n_pct, n_pct)]
    problem = BlendProblem(STOCKS, (*own, *wishes.nutrients), wishes.slow_release)
    return solve(problem)


@given(
    pack=st.sampled_from([pack for pack in PACKS.values() if pack.rules]),
    rate=st.sampled_from([0.4, 0.5, 0.7, 0.75, 0.9, 1.0]),
    n_pct=st.sampled_from([10.0, 16.0]),
    answers=st.sampled_from([RESTING, NEEDY]),
)
def test_a_blend_solved_under_the_wishes_breaks_no_rule_on_the_blend(pack, rate, n_pct, answers):
    wishes = wishes_for((pack,), answers, rate, n_pct=n_pct)
    assume(not wishes.impossible)
    answer = blend_under(wishes, n_pct)
    assert isinstance(answer, Solved)
    found = check_application(
        (pack,), at_n_rate(answer.blend.analysis, rate, circumstances=answers)
    )
    broken = [f for f in found if f.topic in BLEND_TOPICS and f.verdict is Verdict.FAILS]
    assert not broken


def test_without_the_wishes_the_same_stocks_make_a_blend_that_breaks_the_law():
    answer = solve(BlendProblem(STOCKS, (NutrientWish("N", 16.0, 16.0),)))
    found = check_application(
        (PACKS["US-PA"],), at_n_rate(answer.blend.analysis, 0.9, circumstances=RESTING)
    )
    broken = {f.topic for f in found if f.verdict is Verdict.FAILS}
    assert {Topic.READILY_AVAILABLE_N, Topic.PHOSPHORUS} <= broken


def test_a_rate_turns_the_readily_available_limit_into_a_slow_share():
    wishes = wishes_for((PACKS["US-PA"],), RESTING, 0.9)
    assert wishes.slow_release.min_pct == pytest.approx(100.0 * (1.0 - 0.7 / 0.9))
    assert wishes.nutrients == (NutrientWish("P2O5", max_pct=0.0),)
    assert {reason.rule.code for reason in wishes.reasons} == {"US-PA.rate", "US-PA.p"}


def test_a_low_rate_in_pennsylvania_asks_for_no_slow_release():
    assert wishes_for((PACKS["US-PA"],), RESTING, 0.7).slow_release is None


def test_the_stricter_share_of_state_and_county_becomes_the_wish():
    packs = (PACKS["US-FL"], PACKS["US-FL-ORANGE"])
    assert wishes_for(packs, RESTING, 0.9).slow_release.min_pct == 65.0
    verified = wishes_for(packs, RESTING, 0.9, include_unverified=False)
    assert verified.slow_release.min_pct == 50.0
    assert {r.rule.status for r in verified.reasons} == {Status.ACTIVE}
    assert wishes_for(packs, RESTING, 0.5, include_unverified=False).slow_release is None


def test_phosphate_is_free_to_the_limit_of_the_law_and_bounded_when_a_test_stands():
    assert wishes_for((PACKS["US-NY"],), RESTING, 0.7).nutrients == (
        NutrientWish("P2O5", max_pct=0.67),
    )
    assert wishes_for((PACKS["US-NY"],), NEEDY, 0.7).nutrients == ()
    (phosphate,) = wishes_for((PACKS["US-FL-ORANGE"],), NEEDY, 0.5, n_pct=20.0).nutrients
    # 0.25 lb P2O5 beside 0.5 lb N in a blend of 20 % N (Orange County Code 15-804(b)).
    assert phosphate.max_pct == pytest.approx(10.0)


def test_a_share_that_professionals_alone_are_spared_is_asked_of_others():
    # Orange County Code 15-804(c), (d): half a pound is exempt for professionals.
    for professional in (None, False):
        answers = Circumstances(professional=professional, soil_test_shows_p_need=False)
        wishes = wishes_for((PACKS["US-FL-ORANGE"],), answers, 0.5, include_unverified=False)
        assert wishes.slow_release.min_pct == 50.0


def test_a_limit_on_pounds_of_phosphate_never_asks_for_more_than_all_of_the_blend():
    # 0.25 lb P2O5 beside 0.01 lb N in a blend of 20 % N would be 500 %.
    (phosphate,) = wishes_for((PACKS["US-FL-ORANGE"],), NEEDY, 0.01, n_pct=20.0).nutrients
    assert phosphate.max_pct == 100.0


def test_what_is_free_to_all_stays_free_beside_a_limit_on_pounds():
    # 0.01 lb P2O5 beside 0.5 lb N at 20 % N would be 0.4 %; the text frees 0.67 %.
    rule = next(r for r in PACKS["US-NY"].rules if r.basis.code == "US-NY.p")
    pack = replace(PACKS["US-NY"], rules=(replace(rule, largest_p2o5_lb=0.01),))
    assert wishes_for((pack,), NEEDY, 0.5, n_pct=20.0).nutrients == (
        NutrientWish("P2O5", max_pct=0.67),
    )


def test_the_most_that_any_blend_may_bring_is_the_highest_step_of_the_day():
    # Florida 5E-1.003(2): 2 lb in spring from 65 % slow release on.
    wishes = wishes_for((PACKS["US-FL"],), RESTING, 2.5, on=date(2027, 4, 1))
    assert wishes.impossible[0].sentence.startswith("2.50 lb N is above the 2.00 lb")


@pytest.mark.parametrize("codes", [("US-PA", "US-NY"), ("US-NY", "US-PA")])
def test_of_two_limits_on_phosphate_the_lower_becomes_the_wish(codes):
    # 3 Pa.C.S. 6813(a)(3): none without a reason; N.Y. ECL 17-2103: up to 0.67 % without one.
    wishes = wishes_for([PACKS[code] for code in codes], RESTING, 0.7)
    assert wishes.nutrients == (NutrientWish("P2O5", max_pct=0.0),)


def test_vermont_asks_for_insoluble_nitrogen_by_content():
    wishes = wishes_for((PACKS["US-VT"],), RESTING, 0.7, n_pct=20.0)
    assert NutrientWish("N.insoluble", min_pct=pytest.approx(3.0)) in wishes.nutrients
    unnamed = wishes_for((PACKS["US-VT"],), RESTING, 0.7)
    assert any("Name the total nitrogen" in point.sentence for point in unnamed.open_points)


def test_a_rate_above_every_total_is_impossible_and_says_so():
    wishes = wishes_for((PACKS["US-PA"],), RESTING, 1.2)
    (reason,) = wishes.impossible
    assert reason.sentence.startswith("1.20 lb N is above the 0.90 lb")
    assert reason.rule.citation == "3 Pa.C.S. 6813(a)(1), (2)"


def test_an_unsettled_definition_is_an_open_point_beside_the_wish():
    wishes = wishes_for((PACKS["US-MD"],), RESTING, 0.9)
    assert wishes.slow_release is not None
    assert any("does not settle" in point.sentence for point in wishes.open_points)
