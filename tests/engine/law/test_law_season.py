"""A season's plan against closed dates and the sums of each year."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from law_cases import PACKS, p2o5_for, spray

from formulas.engine import BadProblem
from formulas.engine.law import Topic, Verdict, check_application, check_season, overall
from formulas.engine.law.place_and_time import in_window
from formulas.engine.law.rules import Applicator, Blackout, NitrogenPerYear, Status


# N.Y. ECL 17-2103(3)(a): "between December first and April first", both days taken as closed.
@pytest.mark.parametrize(
    ("day", "closed"),
    [
        (date(2026, 11, 30), False),
        (date(2026, 12, 1), True),
        (date(2026, 12, 31), True),
        (date(2027, 1, 1), True),
        (date(2028, 2, 29), True),
        (date(2027, 4, 1), True),
        (date(2027, 4, 2), False),
    ],
)
def test_a_window_across_the_year_end_holds_both_its_end_points(day, closed):
    assert in_window(day, (12, 1), (4, 1)) is closed


# N.J.S.A. 58:10A-62: "before March 1st", in a leap year too.
def test_the_end_of_february_is_its_last_day_in_every_year():
    assert in_window(date(2028, 2, 29), (11, 16), (2, 29))
    assert in_window(date(2027, 2, 28), (11, 16), (2, 29))
    assert not in_window(date(2027, 3, 1), (11, 16), (2, 29))


@given(
    start=st.dates(date(2024, 1, 1), date(2024, 12, 31)),
    length=st.integers(0, 364),
    day=st.dates(date(2024, 1, 1), date(2024, 12, 31)),
)
def test_a_window_is_the_days_one_counts_from_its_first_to_its_last(start, length, day):
    end = start + timedelta(days=length)
    counted = {((start + timedelta(days=i)).month, (start + timedelta(days=i)).day)
               for i in range(length + 1)}  # fmt: skip
    found = in_window(day, (start.month, start.day), (end.month, end.day))
    assert found is ((day.month, day.day) in counted)


def of(found, topic):
    return [f for f in found if f.topic is topic]


# Marion County Code 19-247: centipedegrass 2 lb a year, 0.5 lb phosphorus a year.
def test_a_plan_is_summed_over_the_year_and_told_how_much_too_much():
    plan = [
        spray(n=0.7, on=day, grass="centipedegrass")
        for day in ("2027-03-15", "2027-05-15", "2027-10-15")
    ]
    (year,) = of(check_season((PACKS["US-FL-MARION"],), plan), Topic.ANNUAL_N)
    assert year.verdict is Verdict.FAILS
    assert year.sentence.startswith("2027: 2.10 lb nitrogen in the year against at most 2.00 lb")
    assert year.fix == "Apply 0.10 lb N less over the year."
    (year,) = of(check_season((PACKS["US-FL-MARION"],), plan[:2]), Topic.ANNUAL_N)
    assert year.verdict is Verdict.PASSES


def test_each_calendar_year_is_summed_alone():
    plan = [
        spray(n=0.7, on=day, grass="centipedegrass")
        for day in ("2027-10-01", "2027-11-01", "2028-03-01", "2028-04-01")
    ]
    years = of(check_season((PACKS["US-FL-MARION"],), plan), Topic.ANNUAL_N)
    assert [f.sentence[:4] for f in years] == ["2027", "2028"]
    assert {f.verdict for f in years} == {Verdict.PASSES}


def test_phosphate_is_summed_over_the_year():
    plan = [spray(**p2o5_for(0.2), on=day) for day in ("2027-03-15", "2027-06-15", "2027-09-15")]
    (year,) = of(check_season((PACKS["US-FL-MARION"],), plan), Topic.ANNUAL_P2O5)
    assert year.verdict is Verdict.FAILS
    assert year.figure == pytest.approx(0.6)


# Marion County Code 19-247: 0.25 lb at a time and 0.5 lb a year; a starter of 1.0 lb once on a
# new lawn, which the year's half pound could never hold.
@pytest.mark.parametrize(
    ("later", "total_lb", "verdict"),
    [(("06-15", "09-15"), 0.5, Verdict.PASSES), (("05-15", "07-15", "09-15"), 0.75, Verdict.FAILS)],
)
def test_the_starter_of_a_new_lawn_is_not_in_the_sum_of_its_year(later, total_lb, verdict):
    starter = spray(**p2o5_for(1.0), on="2027-03-15", new_lawn=True)
    plan = [starter, *(spray(**p2o5_for(0.25), on=f"2027-{day}", new_lawn=False) for day in later)]
    found = check_season((PACKS["US-FL-MARION"],), plan)
    (year,) = of(found, Topic.ANNUAL_P2O5)
    assert (year.verdict, year.figure) == (verdict, pytest.approx(total_lb))
    assert year.fix == ("" if total_lb <= 0.5 else "Apply 0.25 lb P2O5 less over the year.")
    at_a_time = of(found, Topic.P2O5_RATE)
    assert [f.limit for f in at_a_time] == [1.0, *([0.25] * len(later))]
    assert {f.verdict for f in at_a_time} == {Verdict.PASSES}


# Florida 5E-1.003(2): 0.25 lb at a time, 0.5 lb a year; nothing more is written for a new lawn.
def test_a_new_lawn_is_held_to_the_usual_rate_where_the_text_has_no_starter():
    pack = replace(
        PACKS["US-FL"], rules=tuple(r for r in PACKS["US-FL"].rules if r.basis.code == "US-FL.p")
    )
    found = check_application((pack,), spray(**p2o5_for(0.26), new_lawn=True))
    (rate,) = of(found, Topic.P2O5_RATE)
    assert (rate.limit, rate.verdict) == (0.25, Verdict.FAILS)
    plan = [spray(**p2o5_for(0.2), on=day, new_lawn=True)
            for day in ("2027-03-15", "2027-06-15", "2027-09-15")]  # fmt: skip
    (year,) = of(check_season((pack,), plan), Topic.ANNUAL_P2O5)
    assert (year.figure, year.verdict) == (pytest.approx(0.6), Verdict.FAILS)


def test_what_was_applied_before_the_plan_counts_in_its_first_year_only():
    plan = [
        spray(n=0.7, on=day, grass="centipedegrass", n_earlier_this_year_lb=1.5)
        for day in ("2027-10-01", "2028-03-01")
    ]
    years = of(check_season((PACKS["US-FL-MARION"],), plan), Topic.ANNUAL_N)
    assert [f.verdict for f in years] == [Verdict.FAILS, Verdict.PASSES]


def test_phosphate_applied_before_the_plan_counts_in_its_first_year_only():
    # Florida 5E-1.003(2): half a pound a year; 0.4 + 0.2 in 2027, 0.2 in 2028.
    plan = [
        spray(**p2o5_for(0.2), on=day, p2o5_earlier_this_year_lb=0.4)
        for day in ("2027-03-01", "2028-03-01")
    ]
    years = of(check_season((PACKS["US-FL"],), plan), Topic.ANNUAL_P2O5)
    assert [f.figure for f in years] == [pytest.approx(0.6), pytest.approx(0.2)]
    assert [f.verdict for f in years] == [Verdict.FAILS, Verdict.PASSES]


# New Jersey, figures from memory: 4.25 lb a year for professionals, 3.2 lb for others.
@pytest.mark.parametrize(("professional", "limit"), [(True, 4.25), (False, 3.2)])
def test_a_year_is_held_to_the_limit_of_who_sprays_and_dated_by_its_last_day(professional, limit):
    plan = [spray(n=0.7, on=day, professional=professional) for day in ("2027-09-15", "2027-04-10")]
    years = of(check_season((PACKS["US-NJ"],), plan), Topic.ANNUAL_N)
    assert [(f.limit, f.on) for f in years] == [(limit, date(2027, 9, 15))]


def test_a_closed_day_is_found_in_a_plan_and_dated():
    plan = [spray(n=0.5, on=day, professional=True) for day in ("2027-04-10", "2026-12-20")]
    found = of(check_season((PACKS["US-NJ"],), plan), Topic.BLACKOUT)
    assert [(f.on, f.verdict) for f in found] == [
        (date(2026, 12, 20), Verdict.FAILS),
        (date(2027, 4, 10), Verdict.PASSES),
    ]


def test_a_plan_without_a_day_is_refused_and_one_without_packs_is_not_assessed():
    with pytest.raises(BadProblem, match=r"plan\.1\.on"):
        check_season((PACKS["US-MD"],), [spray(on="2027-05-01"), spray()])
    (finding,) = check_season((), [spray(on="2027-05-01")])
    assert finding.verdict is Verdict.NOT_ASSESSED


#: First and last closed day as each text has them (citations in the packs).
WINDOWS = {
    "US-MD.winter": ("12-02", "02-29"),
    "US-MD.autumn-others": ("11-16", "12-01"),
    "US-MD.autumn-professional": ("11-16", "12-01"),
    "US-PA.winter-rate": ("12-16", "03-01"),
    "US-PA.winter-none": ("12-16", "02-29"),
    "US-NJ.dates-others": ("11-16", "02-29"),
    "US-NJ.dates-professional": ("12-02", "02-29"),
    "US-DE.winter": ("12-07", "02-15"),
    "US-DC.winter": ("11-16", "02-29"),
    "US-NY.winter": ("12-01", "04-01"),
    "US-VT.winter": ("10-16", "03-31"),
    "US-CT.winter": ("12-01", "03-15"),
    "US-FL-ORANGE.summer": ("06-01", "09-30"),
    "US-FL-ISLAMORADA.summer": ("06-01", "09-30"),
    "US-FL-PINELLAS.summer": ("06-01", "09-30"),
    "US-FL-SARASOTA.summer": ("06-01", "09-30"),
    "US-FL-MANATEE.summer": ("06-01", "09-30"),
}


def test_every_closed_window_is_known_by_both_its_days():
    rules = [rule for pack in PACKS.values() for rule in pack.rules if isinstance(rule, Blackout)]
    assert {rule.basis.code for rule in rules} == set(WINDOWS)


@pytest.mark.parametrize(("code", "days"), WINDOWS.items())
def test_a_closed_window_holds_its_end_points_and_not_the_days_beside_them(code, days):
    pack = next(p for p in PACKS.values() if any(r.basis.code == code for r in p.rules))
    first, last = (date.fromisoformat(f"2028-{day}") for day in days)
    professional = "professional" in code or code == "US-DE.winter"

    def verdict(day):
        application = spray(**p2o5_for(0.1, n=0.9), on=day.isoformat(), professional=professional)
        return next(
            f.verdict for f in check_application((pack,), application) if f.rule.code == code
        )

    assert verdict(first) is verdict(last) is Verdict.FAILS
    for outside in (first - timedelta(days=1), last + timedelta(days=1)):
        assert verdict(outside) is Verdict.PASSES


def bound_to(pack, applicator, kind):
    """The pack with only its rules of one kind, bound to one kind of applicator."""
    rules = tuple(
        replace(rule, basis=replace(rule.basis, applicator=applicator))
        for rule in pack.rules
        if isinstance(rule, kind)
    )
    return replace(pack, rules=rules)


@pytest.mark.parametrize("who", [Applicator.PROFESSIONAL, Applicator.OTHERS])
def test_a_year_asks_who_sprays_in_the_words_of_one_application(who):
    pack = bound_to(PACKS["US-FL-MARION"], who, NitrogenPerYear)
    one = spray(n=2.1, on="2027-05-15", grass="centipedegrass", n_earlier_this_year_lb=0.0)
    (single,) = of(check_application((pack,), one), Topic.ANNUAL_N)
    (year,) = of(check_season((pack,), [one]), Topic.ANNUAL_N)
    assert (year.verdict, year.asks) == (single.verdict, single.asks)
    assert year.verdict is Verdict.NOT_ASSESSED
    assert year.asks[-1] == "professional"
    assert year.sentence == f"2027: {single.sentence}"
    told = replace(
        one,
        circumstances=replace(one.circumstances, professional=who is Applicator.PROFESSIONAL),
    )
    (known,) = of(check_season((pack,), [told]), Topic.ANNUAL_N)
    assert known.verdict is Verdict.FAILS


def unverified_only(pack):
    rules = tuple(
        replace(rule, basis=replace(rule.basis, status=Status.UNVERIFIED)) for rule in pack.rules
    )
    return replace(pack, rules=rules)


def test_a_season_over_every_unverified_limit_likely_fails():
    pack = unverified_only(PACKS["US-FL-MARION"])
    plan = [spray(n=3.0, on=day, grass="centipedegrass") for day in ("2027-03-15", "2027-05-15")]
    assert overall(check_season((pack,), plan)) is Verdict.LIKELY_FAILS
    assert overall(check_application((pack,), plan[0])) is Verdict.LIKELY_FAILS
    assert overall(check_season((PACKS["US-FL-MARION"],), plan)) is Verdict.FAILS
    kept = [spray(n=0.4, s=60.0, on="2027-05-15", grass="centipedegrass")]
    assert overall(check_season((pack,), kept)) is Verdict.NOT_ASSESSED
