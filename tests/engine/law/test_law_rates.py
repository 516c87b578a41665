"""Rates and slow shares: the arithmetic of two limits, open definitions, ways out."""

import math
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from law_cases import PACKS, spray

from formulas.engine.law import (
    Circumstances,
    Topic,
    Verdict,
    check_application,
    largest_n_rate,
)
from formulas.engine.law.rules import NitrogenPerApplication, SlowShare, SolubleSlow

RATE_TOPICS = {Topic.TOTAL_N, Topic.READILY_AVAILABLE_N, Topic.SLOW_SHARE}


def only(pack, *codes):
    """The pack with these rules alone."""
    rules = tuple(rule for rule in pack.rules if rule.basis.code in codes)
    assert len(rules) == len(codes)
    return replace(pack, rules=rules)


PA = only(PACKS["US-PA"], "US-PA.rate")
PA_SHARE = only(PACKS["US-PA"], "US-PA.slow")
MARION = only(PACKS["US-FL-MARION"], "US-FL-MARION.rate")
MD = PACKS["US-MD"]


# Worked from 3 Pa.C.S. 6813(a) (0.9 and 0.7 lb) and Marion County Code 19-247 (1.0 and 0.7 lb):
# rate = min(T, R / (1 - s)), e.g. 0.7 / 0.8 = 0.875.
@pytest.mark.parametrize(
    ("slow_pct", "pennsylvania", "marion"),
    [
        (0.0, 0.700, 0.700),
        (20.0, 0.875, 0.875),
        (22.2, 0.900, 0.900),
        (25.0, 0.900, 0.933),
        (30.0, 0.900, 1.000),
        (60.0, 0.900, 1.000),
        (100.0, 0.900, 1.000),
    ],
)
def test_the_largest_rate_follows_from_the_slow_share(slow_pct, pennsylvania, marion):
    assert largest_n_rate((PA,), slow_pct).wide_lb == pytest.approx(pennsylvania, abs=5e-4)
    assert largest_n_rate((MARION,), slow_pct).wide_lb == pytest.approx(marion, abs=5e-4)


def test_soluble_slow_nitrogen_gives_two_figures_where_the_law_is_unsettled():
    bound = largest_n_rate((MARION,), 30.0)
    assert (bound.wide_lb, bound.narrow_lb) == pytest.approx((1.0, 0.7))
    assert bound.rule.code == "US-FL-MARION.rate"
    insoluble = largest_n_rate((MARION,), 30.0, insoluble_share_pct=30.0)
    assert insoluble.narrow_lb == pytest.approx(1.0)


def test_both_figures_stand_in_the_sentence_where_the_law_is_unsettled():
    found = check_application((only(MD, "US-MD.rate"),), spray(n=0.9, s=25.0))
    (finding,) = [f for f in found if f.topic is Topic.READILY_AVAILABLE_N]
    assert finding.verdict is Verdict.NOT_ASSESSED
    assert "0.675 lb readily available nitrogen against at most 0.70 lb" in finding.sentence
    assert "0.90 lb if water-soluble slow nitrogen does not count" in finding.sentence
    assert finding.fix.endswith("or apply at most 0.70 lb N.")
    # The figure beside the limit is the one of the narrower reading.
    assert finding.figure == pytest.approx(0.9)


def test_a_broken_rate_says_how_much_slow_release_or_how_little_nitrogen_would_do():
    found = check_application((PA,), spray(n=0.9, s=0.0))
    (finding,) = [f for f in found if f.topic is Topic.READILY_AVAILABLE_N]
    assert finding.verdict is Verdict.FAILS
    assert finding.fix == (
        "Raise slow release to 22.3 % of total nitrogen or apply at most 0.70 lb N."
    )


def test_a_rate_to_keep_keeps_the_narrower_reading_too_where_both_are_broken():
    # Md. Agriculture 8-803.5: 0.7 lb. At 10 % slow release 0.9 lb brings 0.81 lb if it counts and
    # 0.9 lb if not; 0.7 / 0.9 = 0.777 lb would still break the second.
    maryland = only(MD, "US-MD.rate")
    found = check_application((maryland,), spray(n=0.9, s=10.0))
    (finding,) = [f for f in found if f.topic is Topic.READILY_AVAILABLE_N]
    assert finding.verdict is Verdict.FAILS
    assert finding.fix.endswith("or apply at most 0.70 lb N.")
    kept = check_application((maryland,), spray(n=0.7, s=10.0))
    assert {f.verdict for f in kept} == {Verdict.PASSES}


def test_a_rate_to_keep_is_rounded_down():
    # 0.7 / 0.85 = 0.8235: 0.824 lb would bring 0.7004 lb readily available.
    found = check_application((PA,), spray(n=0.9, s=15.0))
    (finding,) = [f for f in found if f.topic is Topic.READILY_AVAILABLE_N]
    assert finding.fix.endswith("or apply at most 0.823 lb N.")
    verdicts = [
        {f.verdict for f in check_application((PA,), spray(n=n, s=15.0))} for n in (0.823, 0.824)
    ]
    assert verdicts[0] == {Verdict.PASSES}
    assert Verdict.FAILS in verdicts[1]


def test_a_larger_total_that_hangs_on_a_reading_is_bounded_by_the_narrower_one():
    # Florida 5E-1.003(2): 1 lb, 2 lb in spring from 65 % slow release on. Were it left open
    # whether water-soluble slow nitrogen counts, 1 lb is what surely keeps the text.
    florida = only(PACKS["US-FL"], "US-FL.rate")
    (rule,) = florida.rules
    unsettled = replace(florida, rules=(replace(rule, soluble_slow=SolubleSlow.UNSETTLED),))
    found = check_application((unsettled,), spray(n=1.5, s=70.0, on="2027-04-01"))
    (total,) = [f for f in found if f.topic is Topic.TOTAL_N]
    assert (total.verdict, total.limit) == (Verdict.NOT_ASSESSED, 1.0)
    assert total.fix.startswith("Apply at most 1.00 lb N.")


@pytest.mark.parametrize("slow_pct", [20.0, 50.0])
def test_more_of_the_same_is_not_advised_where_only_a_reading_is_missed(slow_pct):
    found = check_application((only(MD, "US-MD.slow"),), spray(n=0.9, s=slow_pct))
    (finding,) = [f for f in found if f.topic is Topic.SLOW_SHARE]
    assert finding.verdict is Verdict.NOT_ASSESSED
    assert finding.fix.startswith(
        "Raise slow release that is not water soluble to 20 % of total nitrogen, or ask the state"
    )
    assert (finding.figure, finding.limit) == (0.0, 20.0)


def test_following_either_way_out_of_a_broken_rate_keeps_the_law():
    for example in (spray(n=0.9, s=22.3), spray(n=0.7, s=0.0)):
        assert {f.verdict for f in check_application((PA,), example)} == {Verdict.PASSES}


def test_vermont_counts_no_water_soluble_nitrogen_as_slow():
    vermont = only(PACKS["US-VT"], "US-VT.slow")
    (finding,) = check_application((vermont,), spray(n=0.9, s=60.0))
    assert finding.verdict is Verdict.FAILS
    assert "counts no water-soluble nitrogen" in finding.sentence
    assert largest_n_rate((vermont,), 60.0).wide_lb == 0.0


def test_an_exemption_of_professionals_alone_is_named_so():
    # Orange County Code 15-804(c), (d): half a pound without the share, for professionals.
    (finding,) = check_application(
        (only(PACKS["US-FL-ORANGE"], "US-FL-ORANGE.slow"),), spray(n=0.4, professional=False)
    )
    assert finding.verdict is Verdict.FAILS
    assert finding.fix == (
        "Raise slow release to 50 % of total nitrogen"
        ", or apply at most 0.50 lb N (professionals only)."
    )


@pytest.mark.parametrize(("professional", "rate"), [(True, 0.5), (False, 0.0), (None, 0.0)])
def test_the_largest_rate_without_a_share_is_the_one_exempt_for_who_sprays(professional, rate):
    share = only(PACKS["US-FL-ORANGE"], "US-FL-ORANGE.slow")
    assert largest_n_rate((share,), 0.0, Circumstances(professional=professional)).wide_lb == rate


def test_without_a_grass_the_rates_of_every_grass_bound():
    # Extension notes as quoted: 0.7 lb on cool-season grass, 0.9 lb on warm-season grass.
    virginia = (PACKS["US-VA"],)
    rates = [
        largest_n_rate(virginia, 0.0, Circumstances(grass=grass)).wide_lb
        for grass in (None, "tall_fescue", "bermudagrass")
    ]
    assert rates == [0.7, 0.7, 0.9]


def test_the_largest_rate_may_rest_on_verified_rules_alone():
    # Pennsylvania's 0.9 lb was read in the Act, Virginia's 0.9 lb on tall fescue as quoted only.
    packs, fescue = (PACKS["US-PA"], PACKS["US-VA"]), Circumstances(grass="tall_fescue")
    assert largest_n_rate(packs, 60.0, fescue, include_unverified=False).wide_lb == 0.9
    assert largest_n_rate(packs[1:], 60.0, fescue).wide_lb == 0.9
    assert largest_n_rate(packs[1:], 60.0, fescue, include_unverified=False).wide_lb == math.inf


def test_closed_dates_bound_the_rate_of_the_nutrient_they_close():
    # P.A. 12-155: phosphorus from December 1 to March 15; 3 Pa.C.S. 6813: 0.5 lb N in winter;
    # N.Y. ECL 17-2103(3)(a): none from December 1 to April 1.
    winter = date(2027, 1, 5)
    connecticut, new_york = (
        only(PACKS["US-CT"], "US-CT.winter"),
        only(PACKS["US-NY"], "US-NY.winter"),
    )
    assert largest_n_rate((connecticut,), 0.0, on=winter).wide_lb == math.inf
    assert (
        largest_n_rate((only(PACKS["US-PA"], "US-PA.winter-rate"),), 0.0, on=winter).wide_lb == 0.5
    )
    new_lawn = Circumstances(new_lawn=True)
    assert largest_n_rate((new_york,), 0.0, new_lawn, on=winter).wide_lb == 0.0
    (rule,) = new_york.rules
    excepted = replace(new_york, rules=(replace(rule, new_lawn_exempt=True),))
    assert largest_n_rate((excepted,), 0.0, new_lawn, on=winter).wide_lb == math.inf
    assert largest_n_rate((excepted,), 0.0, on=winter).wide_lb == 0.0


def test_florida_needs_the_season_for_its_two_pound_step():
    florida = only(PACKS["US-FL"], "US-FL.rate")
    summer, undated = spray(n=1.5, s=70.0, on="2027-06-15"), spray(n=1.5, s=70.0)
    assert {f.verdict for f in check_application((florida,), summer)} == {Verdict.PASSES}
    (total,) = [f for f in check_application((florida,), undated) if f.topic is Topic.TOTAL_N]
    assert total.verdict is Verdict.FAILS
    assert "Up to 2.00 lb from 65 % slow release in March, April" in total.fix


def test_a_maryland_rate_of_0_7_without_slow_release_is_left_open_not_passed():
    (finding,) = check_application((only(MD, "US-MD.slow"),), spray(n=0.7))
    assert finding.verdict is Verdict.NOT_ASSESSED
    assert "can be read either way" in finding.sentence
    (finding,) = check_application((only(MD, "US-MD.slow"),), spray(n=0.8))
    assert finding.verdict is Verdict.FAILS


# 3 Pa.C.S. 6804(b)(2) frees a liquid whose directions follow 6813(a): at most 0.9 lb total and
# 0.7 lb readily available. Of 0.8 lb at 12.5 % slow release 0.8 x 0.875 = 0.7 lb is readily so.
@pytest.mark.parametrize(
    ("n", "verdict", "said"),
    [(0.8, Verdict.PASSES, "rates is exempt"), (0.801, Verdict.FAILS, "exempt only within")],
)
def test_pennsylvania_frees_a_liquid_by_its_readily_available_part(n, verdict, said):
    (finding,) = check_application((PA_SHARE,), spray(n=n, s=12.5))
    assert finding.verdict is verdict
    assert said in finding.sentence
    assert largest_n_rate((PA_SHARE,), 12.5).wide_lb == pytest.approx(0.8)
    # The share alone: the rates that free a liquid are the limits of another rule.
    assert largest_n_rate((PA_SHARE,), 20.0).wide_lb == math.inf


def test_a_liquid_above_the_total_rate_is_not_freed_however_slow_it_is():
    # Asked for 50 % slow release in place of 20 %, so that the total binds: at 40 % slow the
    # readily available limit would reach 0.7 / 0.6 = 1.17 lb.
    (rule,) = PA_SHARE.rules
    stricter = replace(PA_SHARE, rules=(replace(rule, smallest_pct=50.0),))
    verdicts = [
        finding.verdict
        for n in (0.9, 0.91)
        for finding in check_application((stricter,), spray(n=n, s=40.0))
    ]
    assert verdicts == [Verdict.PASSES, Verdict.FAILS]
    assert largest_n_rate((stricter,), 40.0).wide_lb == pytest.approx(0.9)


def test_enhanced_efficiency_takes_a_broken_total_out_of_what_can_be_screened():
    plain, enhanced = spray(n=1.5, s=60.0), spray(n=1.5, s=60.0, enhanced_efficiency=True)
    totals = [
        next(f for f in check_application((PA,), a) if f.topic is Topic.TOTAL_N)
        for a in (plain, enhanced)
    ]
    assert [f.verdict for f in totals] == [Verdict.FAILS, Verdict.NOT_ASSESSED]


RATE_PACKS = [
    pack
    for pack in PACKS.values()
    if any(isinstance(rule, NitrogenPerApplication | SlowShare) for rule in pack.rules)
]
ORDER = {Verdict.FAILS: 0, Verdict.NOT_ASSESSED: 1, Verdict.PASSES: 2}


@given(
    pack=st.sampled_from(RATE_PACKS),
    n=st.floats(0.05, 3.0),
    shares=st.tuples(st.floats(0.0, 100.0), st.floats(0.0, 100.0)).map(sorted),
    insoluble=st.booleans(),
    answers=st.fixed_dictionaries(
        {
            "professional": st.sampled_from([None, True, False]),
            "grass": st.sampled_from([None, "tall_fescue", "bermudagrass"]),
        }
    ),
    on=st.sampled_from([None, "2027-05-10", "2027-10-10"]),
)
def test_raising_the_slow_share_never_worsens_a_rate_rule(pack, n, shares, insoluble, answers, on):
    before, after = (
        {
            (f.rule.code, f.topic): f.verdict
            for f in check_application(
                (pack,), spray(n=n, s=s, win=s if insoluble else 0.0, on=on, **answers)
            )
            if f.topic in RATE_TOPICS
        }
        for s in shares
    )
    assert before.keys() == after.keys()
    for key, verdict in before.items():
        assert ORDER[after[key]] >= ORDER[verdict]


@given(
    pack=st.sampled_from(RATE_PACKS),
    s=st.floats(0.0, 95.0),
    answers=st.fixed_dictionaries(
        {
            "professional": st.sampled_from([True, False]),
            "grass": st.sampled_from(["tall_fescue", "bermudagrass"]),
        }
    ),
)
def test_the_narrow_bound_keeps_every_rate_rule_and_a_little_more_than_the_wide_one_does_not(
    pack, s, answers
):
    bound = largest_n_rate((pack,), s, Circumstances(**answers))

    def verdicts(rate):
        found = check_application((pack,), spray(n=rate, s=s, **answers))
        return {f.verdict for f in found if f.topic in RATE_TOPICS}

    if 0.0 < bound.narrow_lb < 50.0:
        unsettled_share = any(
            isinstance(r, SlowShare) and r.certain_above_n_lb is not None for r in pack.rules
        )
        assert Verdict.FAILS not in verdicts(bound.narrow_lb)
        assert unsettled_share or Verdict.NOT_ASSESSED not in verdicts(bound.narrow_lb)
    if bound.wide_lb < 50.0:
        assert Verdict.FAILS in verdicts(bound.wide_lb + 0.01)
