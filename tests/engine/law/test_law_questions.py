"""An unanswered question is never a pass, and the finding names what to ask."""

from dataclasses import replace
from datetime import date

import pytest
from law_cases import PACKS, spray
from statute_examples import DC_SENTENCE

from formulas.engine import BadProblem
from formulas.engine.law import (
    Application,
    Circumstances,
    Topic,
    Verdict,
    at_n_rate,
    check_application,
)


def verdict_of(code, application):
    pack = next(p for p in PACKS.values() if any(r.basis.code == code for r in p.rules))
    found = [f for f in check_application((pack,), application) if f.rule.code == code]
    return found[0] if found else None


@pytest.mark.parametrize(
    ("code", "example", "asks"),
    [
        ("US-MD.p", {"p2o5": 1.0}, "soil_test_shows_p_need"),
        ("US-MD.p", {"p2o5": 1.0, "soil_test_shows_p_need": True}, "soil_test_age_months"),
        ("US-MD.ground", {}, "frozen_or_snow"),
        ("US-MD.setback", {}, "distance_to_water_ft"),
        ("US-MD.setback", {"distance_to_water_ft": 12.0}, "targeted_spray"),
        ("US-MD.winter", {}, "on"),
        ("US-MD.year", {}, "grass"),
        ("US-MD.year", {"grass": "tall_fescue"}, "n_earlier_this_year_lb"),
        ("US-VA.rate-cool", {}, "grass"),
        ("US-FL.p", {"p2o5": 1.0}, "p2o5_earlier_this_year_lb"),
        ("US-DC.sentence", {}, "label_text"),
        ("US-FL-PALM-SHORES.establishment", {}, "days_since_seeding"),
        ("US-FL-ORANGE.slow", {"n": 0.4}, "professional"),
        ("US-IL.p", {"p2o5": 1.0, "soil_test_shows_p_need": False, "new_lawn": False},
         "professional"),
        ("US-NJ.dates-professional", {"on": "2026-12-20"}, "professional"),
    ],
)  # fmt: skip
def test_an_open_question_leaves_the_rule_open_and_is_named(code, example, asks):
    pack = next(p for p in PACKS.values() if any(r.basis.code == code for r in p.rules))
    found = [f for f in check_application((pack,), spray(**example)) if f.rule.code == code]
    open_ones = [f for f in found if f.verdict is Verdict.NOT_ASSESSED]
    assert asks in {question for f in open_ones for question in f.asks}
    assert Verdict.FAILS not in {f.verdict for f in found}


def test_a_rule_for_professionals_says_nothing_to_others():
    assert verdict_of("US-DE.winter", spray(on="2027-01-05", professional=False)) is None
    finding = verdict_of("US-DE.winter", spray(on="2027-01-05"))
    assert finding.verdict is Verdict.NOT_ASSESSED
    assert "This binds professional applicators: who sprays?" in finding.sentence
    # N.J.S.A. 58:10A-62: from November 16 on for those who are no professionals.
    finding = verdict_of("US-NJ.dates-others", spray(on="2026-11-20"))
    assert "This binds other applicators: who sprays?" in finding.sentence


def test_one_standing_reason_settles_phosphate_whatever_else_is_open():
    finding = verdict_of("US-MD.p", spray(p2o5=1.0, new_lawn=True))
    assert finding.verdict is Verdict.PASSES
    assert finding.asks == ()


def test_a_soil_test_that_shows_no_need_opens_nothing():
    finding = verdict_of("US-NY.p", spray(p2o5=1.0, soil_test_shows_p_need=False, new_lawn=False))
    assert finding.verdict is Verdict.FAILS
    assert finding.fix.startswith("Keep P2O5 at 0.67 % or less")


def test_a_soil_test_of_any_age_stands_where_the_text_names_none():
    finding = verdict_of("US-NY.p", spray(p2o5=1.0, soil_test_shows_p_need=True))
    assert (finding.verdict, finding.asks) == (Verdict.PASSES, ())


def test_two_reasons_denied_leave_the_third_to_be_asked():
    # Md. Agriculture 8-803.5: a soil test, establishment or repair.
    finding = verdict_of("US-MD.p", spray(p2o5=1.0, soil_test_shows_p_need=False, new_lawn=False))
    assert (finding.verdict, finding.asks) == (Verdict.NOT_ASSESSED, ("repair",))


def test_what_may_not_go_at_all_is_given_no_rate():
    orange = PACKS["US-FL-ORANGE"]
    found = check_application((orange,), spray(p2o5=1.0, soil_test_shows_p_need=False))
    on_phosphate = [f for f in found if f.rule.code == "US-FL-ORANGE.p"]
    assert [(f.topic, f.verdict) for f in on_phosphate] == [(Topic.PHOSPHORUS, Verdict.FAILS)]


def test_phosphate_named_in_an_exception_is_told_beside_the_failure():
    finding = verdict_of("US-PA.p", spray(p2o5=1.0, new_lawn=False, repair=False))
    assert "the text also excepts: enhanced-efficiency phosphorus" in finding.sentence


def test_a_product_without_nitrogen_or_phosphate_is_touched_by_no_date():
    potash = Application({"K2O": 10.0}, 5.0)
    found = check_application((PACKS["US-NY"],), potash)
    assert Topic.BLACKOUT not in {f.topic for f in found}
    # Nor by ground, water or seeding: the texts speak of fertilizer with N or P.
    packs = (PACKS["US-NY"], PACKS["US-FL-PALM-SHORES"])
    assert {f.topic for f in check_application(packs, potash)} <= {Topic.PHOSPHORUS}


def test_how_many_days_are_left_to_wait_is_said():
    # Palm Shores 94.06(D): thirty days after seeding or sodding.
    finding = verdict_of("US-FL-PALM-SHORES.establishment", spray(days_since_seeding=12.0))
    assert (finding.verdict, finding.fix) == (Verdict.FAILS, "Wait 18 more days.")


def test_nothing_sprayed_brings_nothing():
    assert Application({"N.urea": 20.0, "P2O5": 5.0}, 0.0).total_n_lb == 0.0


def test_phosphate_without_nitrogen_keeps_the_closed_dates_too():
    # N.Y. ECL 17-2103(3)(a): no fertilizer from December first to April first.
    phosphate = Application({"P2O5": 10.0}, 5.0, date(2027, 1, 10))
    assert verdict_of("US-NY.winter", phosphate).verdict is Verdict.FAILS


@pytest.mark.parametrize(
    ("code", "example"),
    [
        ("US-NY.winter", {"on": "2027-01-10"}),
        ("US-MD.setback", {"distance_to_water_ft": 5.0, "targeted_spray": False}),
    ],
)
def test_a_new_lawn_is_excepted_only_where_the_text_says_so(code, example):
    assert verdict_of(code, spray(**example, new_lawn=True)).verdict is Verdict.FAILS


def test_a_limit_on_content_holds_at_any_rate():
    # By hand: 3 % P2O5 is above 2 % however little of it is sprayed. No pack has such a limit yet.
    new_york = next(r for r in PACKS["US-NY"].rules if r.basis.code == "US-NY.p")
    pack = replace(PACKS["US-NY"], rules=(replace(new_york, largest_p2o5_pct=2.0),))

    def content(p2o5):
        found = check_application((pack,), spray(n=0.1, p2o5=p2o5, new_lawn=True))
        return [(f.verdict, f.limit) for f in found if f.unit == "% P2O5"]

    assert content(2.0) == [(Verdict.PASSES, 2.0)]
    assert content(3.0) == [(Verdict.FAILS, 2.0)]


def test_no_share_of_nitrogen_is_asked_of_a_product_without_nitrogen():
    found = check_application((PACKS["US-MD"],), Application({"K2O": 10.0}, 5.0))
    assert Topic.SLOW_SHARE not in {f.topic for f in found}


def test_a_sentence_of_the_law_may_stand_in_capitals():
    finding = verdict_of("US-DC.sentence", spray(label=DC_SENTENCE.upper()))
    assert finding.verdict is Verdict.PASSES


def test_a_rule_on_phosphate_alone_leaves_a_nitrogen_product_free():
    assert verdict_of("US-CT.winter", spray(on="2027-01-05")) is None
    assert verdict_of("US-WA.ground", spray(frozen_or_snow=True)) is None


@pytest.mark.parametrize("rate", [-1.0, float("nan"), float("inf")])
def test_a_rate_that_cannot_be_is_refused(rate):
    with pytest.raises(BadProblem, match="product_lb_per_1000sqft"):
        Application({"N.urea": 20.0}, rate)


def test_an_unknown_grass_and_a_rate_of_nitrogen_without_nitrogen_are_refused():
    with pytest.raises(BadProblem, match=r"circumstances\.grass"):
        Application({"N.urea": 20.0}, 1.0, circumstances=Circumstances(grass="clover"))
    with pytest.raises(BadProblem, match="holds no nitrogen"):
        at_n_rate({"K2O": 10.0}, 0.5)
