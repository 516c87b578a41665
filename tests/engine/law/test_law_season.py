"""A season's plan against closed dates and the sums of each year."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from law_cases import PACKS, p2o5_for, spray

from formulas.engine import BadProblem
from formulas.engine.law import Topic, Verdict, check_season
from formulas.engine.law.place_and_time import in_window


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


def test_what_was_applied_before_the_plan_counts_in_its_first_year_only():
    plan = [
        spray(n=0.7, on=day, grass="centipedegrass", n_earlier_this_year_lb=1.5)
        for day in ("2027-10-01", "2028-03-01")
    ]
    years = of(check_season((PACKS["US-FL-MARION"],), plan), Topic.ANNUAL_N)
    assert [f.verdict for f in years] == [Verdict.FAILS, Verdict.PASSES]


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
