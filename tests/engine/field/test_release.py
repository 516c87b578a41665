"""Release outlook: against the published studies and worked check values, not against itself."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem
from formulas.engine.field.release import Pace, Rate, release_outlook, released_fraction
from formulas.engine.field.release_pools import BlendPools, PoolKind, PoolNitrogen
from formulas.engine.field.release_season import OUTLOOK_DAYS, SoilSeason, daily_soil_temp_c
from formulas.engine.units import celsius
from formulas.reference.release_pools import demo_seasons, release_model

MODEL = release_model()
#: 95 % in 90 days, as the trade says: ln 20 / 90, rounded as the table was.
TRADE_RATE = Rate(0.0333, 2.0, "common practice, no source", "trade")


def rate(kind, pace):
    return MODEL.pools[kind].rates[pace]


def even(temp_c, water=1.0):
    return SoilSeason("Even", (temp_c,) * 4, water)


def fraction(rate, temp_c, *, moisture=1.0, microbial=True, cap_c=30.0):
    return released_fraction(
        rate,
        np.full(OUTLOOK_DAYS, float(temp_c)),
        moisture=moisture,
        cap_c=cap_c,
        cutoff_c=5.0 if microbial else None,
    )


def outlook(n_lb, season, **rest):
    pools = tuple(PoolNitrogen(PoolKind(kind), lb) for kind, lb in n_lb.items())
    return release_outlook(BlendPools(pools, **rest), season, MODEL)


# Percent released at constant temperature and field capacity, worked by hand from the published
# rates (sources at each rate in release_pools.toml): 100 (1 - exp(-k25 Q10^((T-25)/10) t)).
CHECKS = [
    (rate(PoolKind.UREA, Pace.USUAL), 20, (80, 96, 100, 100, 100, 100)),
    (rate(PoolKind.UREA_NBPT, Pace.USUAL), 20, (49, 74, 93, 98, 100, 100)),
    (rate(PoolKind.UREA_NBPT_DCD, Pace.USUAL), 20, (60, 84, 97, 100, 100, 100)),
    (rate(PoolKind.TRIAZONE, Pace.FAST), 20, (34, 57, 81, 92, 97, 100)),
    (TRADE_RATE, 25, (21, 37, 61, 75, 85, 95)),
    (TRADE_RATE, 15, (11, 21, 37, 50, 61, 78)),
    (rate(PoolKind.METHYLENE_UREA, Pace.SLOW), 25, (3, 6, 12, 18, 23, 34)),
    (rate(PoolKind.UREAFORM, Pace.USUAL), 25, (5, 9, 17, 25, 32, 46)),
    (rate(PoolKind.UREAFORM, Pace.USUAL), 10, (2, 3, 7, 10, 13, 19)),
]


@pytest.mark.parametrize(("pool_rate", "temp_c", "expected"), CHECKS)
def test_the_check_table_comes_out(pool_rate, temp_c, expected):
    released = 100 * fraction(pool_rate, temp_c)
    assert tuple(round(released[day]) for day in (7, 14, 28, 42, 56, 90)) == expected


@pytest.mark.parametrize(
    ("temp_c", "nitrified_pct"), [(10, 20), (15, 28), (20, 40), (25, 50), (30, 58)]
)
def test_the_ureaform_band_holds_the_14_week_incubation(temp_c, nitrified_pct):
    # Ureaform incubation, 14 weeks at five temperatures (abstract on scilit.com).
    slow, fast = (
        100 * fraction(rate(PoolKind.UREAFORM, pace), temp_c)[98] for pace in (Pace.SLOW, Pace.FAST)
    )
    assert slow < nitrified_pct < fast + 0.5
    usual = 100 * fraction(rate(PoolKind.UREAFORM, Pace.USUAL), temp_c)[98]
    assert usual == pytest.approx(nitrified_pct, abs=3.5)


def test_the_fast_triazone_rate_gives_two_thirds_of_urea_after_eight_days():
    # Clapp 2001 (TheScientificWorld 1:103): whole product, 28 % of its N as urea, 66 % of urea.
    urea = fraction(rate(PoolKind.UREA, Pace.USUAL), 25, microbial=False)[8]
    bound = fraction(rate(PoolKind.TRIAZONE, Pace.FAST), 25)[8]
    assert (0.28 * urea + 0.72 * bound) / urea == pytest.approx(0.66, abs=0.02)


@pytest.mark.parametrize(("temp_c", "per_day"), [(5, 0.07), (15, 0.12), (25, 0.20)])
def test_urea_turns_with_temperature_as_in_six_soils(temp_c, per_day):
    # Lasisi and Akinremi 2020: average over treatments, which is our slow edge for plain urea.
    hydrolysed = fraction(rate(PoolKind.UREA, Pace.SLOW), temp_c, microbial=False)[1]
    assert -np.log1p(-hydrolysed) == pytest.approx(per_day, abs=0.003)


@pytest.mark.parametrize(("temp_c", "mineralised_pct"), [(20, 52), (30, 63)])
def test_the_slow_methylene_urea_rate_is_the_six_month_incubation(temp_c, mineralised_pct):
    # Koivunen and Horwath 2004, short-chain methylene urea, 6 months.
    k = -np.log1p(-fraction(rate(PoolKind.METHYLENE_UREA, Pace.SLOW), temp_c)[100]) / 100
    assert 100 * -np.expm1(-k * 182.5) == pytest.approx(mineralised_pct, abs=1.5)


def test_below_five_degrees_microbes_rest_but_urease_does_not():
    cold = outlook({"urea": 0.5, "triazone": 0.3, "ureaform": 0.2}, even(4.9))
    days = {pool.kind: pool.days_to_90_pct[Pace.FAST] for pool in cold.pools}
    # Urea at 4.9 C: 0.30 x 1.7^-2.01 = 0.1033 per day, ln 10 / 0.1033 = 22.3 days.
    assert days == {PoolKind.UREA: 23, PoolKind.TRIAZONE: None, PoolKind.UREAFORM: None}
    assert cold.lines[Pace.FAST].cumulative_lb_per_1000sqft[-1] == pytest.approx(0.5, abs=1e-4)
    warmer = outlook({"triazone": 1.0}, even(5.0))
    assert warmer.lines[Pace.SLOW].cumulative_lb_per_1000sqft[-1] > 0.4


def test_heat_above_the_cap_speeds_nothing_up():
    hot, capped = (outlook({"triazone": 1.0}, even(temp)).lines for temp in (40.0, 35.0))
    assert hot[Pace.FAST] == capped[Pace.FAST]
    warm = outlook({"triazone": 1.0}, even(30.0)).lines
    assert hot[Pace.USUAL] == warm[Pace.USUAL]
    assert hot[Pace.FAST] != warm[Pace.FAST]


def test_half_of_the_water_halves_the_rate():
    def k(water):
        line = outlook({"triazone": 1.0}, even(25.0, water)).lines[Pace.USUAL]
        return -np.log1p(-line.cumulative_lb_per_1000sqft[10]) / 10

    assert k(0.5) == pytest.approx(0.0225)
    assert k(1.0) == k(1.3) == pytest.approx(0.045)
    assert k(0.0) == k(-0.2) == 0.0


def test_quick_forms_are_there_at_once_and_left_out_of_the_daily_supply():
    found = outlook({"at_once": 0.4, "urea": 0.5}, even(20.0))
    line = found.lines[Pace.USUAL]
    assert found.at_once_lb_per_1000sqft == line.cumulative_lb_per_1000sqft[0] == 0.4
    assert sum(line.daily_lb_per_1000sqft) == pytest.approx(0.5)
    # First day of 0.5 lb at 0.2301 per day: 0.5 (1 - exp(-0.2301)) = 0.1028.
    assert line.daily_lb_per_1000sqft[0] == pytest.approx(0.1028, abs=1e-4)


def test_feeding_ends_when_a_tenth_is_left():
    # 1 lb triazone at 0.045 per day: ln 10 / 0.045 = 51.2 days, supply there 0.0046 lb a day;
    # it falls below 0.005 lb a day sooner: ln(0.045 / 0.005) / 0.045 = 48.8 days.
    line = outlook({"triazone": 1.0}, even(25.0)).lines[Pace.USUAL]
    assert line.feeding_end_day == 49
    # 10 lb never fall below 0.005 lb a day within that time, so the tenth decides.
    assert outlook({"triazone": 10.0}, even(25.0)).lines[Pace.USUAL].feeding_end_day == 52


def test_feeding_may_outlast_the_outlook_or_never_start():
    assert outlook({"ureaform": 5.0}, even(20.0)).lines[Pace.USUAL].feeding_end_day is None
    assert outlook({"ureaform": 0.2}, even(10.0)).lines[Pace.USUAL].feeding_end_day == 0
    assert outlook({"at_once": 0.5}, even(20.0)).lines[Pace.FAST].feeding_end_day == 0


@pytest.mark.parametrize("n_lb", [0.05, 0.2, 0.5, 1.0, 3.0])
@pytest.mark.parametrize("kind", ["urea", "urea_nbpt", "triazone", "methylene_urea", "ureaform"])
@pytest.mark.parametrize("temp_c", [2.0, 10.0, 18.0, 25.0, 32.0])
def test_feeding_never_ends_sooner_at_a_slower_pace(kind, n_lb, temp_c):
    lines = outlook({kind: n_lb}, even(temp_c)).lines
    slow, usual, fast = (
        OUTLOOK_DAYS if end is None else end
        for end in (lines[pace].feeding_end_day for pace in (Pace.SLOW, Pace.USUAL, Pace.FAST))
    )
    assert fast <= usual <= slow


def test_a_cold_spell_does_not_end_the_feeding():
    season = SoilSeason("Cold start", (-2.0, 0.0, 24.0, 24.0), 1.0)
    line = outlook({"triazone": 1.0}, season).lines[Pace.FAST]
    assert line.daily_lb_per_1000sqft[10] == 0.0
    assert line.feeding_end_day > 60


def test_nitrogen_without_a_rate_is_applied_but_never_released():
    found = outlook({"triazone": 0.6}, even(30.0), not_modelled_lb_per_1000sqft=0.4)
    assert found.applied_n_lb_per_1000sqft == pytest.approx(1.0)
    assert found.lines[Pace.FAST].cumulative_lb_per_1000sqft[-1] < 0.6


def test_the_trade_is_named_only_where_it_concerns_the_blend():
    plain = outlook({"urea": 0.5, "at_once": 0.5}, even(20.0))
    assert (plain.trade, plain.disagreement) == ((), None)
    stabilised = outlook({"urea_nbpt": 1.0}, even(20.0))
    assert [(t.days_low, t.days_high) for t in stabilised.trade] == [(42.0, 56.0)]
    both = outlook({"urea_nbpt_dcd": 0.5, "triazone": 0.5}, even(20.0))
    assert [t.days_high for t in both.trade] == [56.0, 90.0]
    assert {t.mark for t in both.trade} == {"common practice, no source"}
    assert "6 to 8 weeks (common practice, no source), but" in both.disagreement
    assert "up to about 90 days (common practice, no source), but" in both.disagreement
    assert "Clapp 2001" in both.disagreement
    # Triazone at 0.085 and 20 C: ln 10 / 0.0601 = 38.3 days.
    assert "in about 39 days of this season" in both.disagreement


def test_cautions_keep_the_outlook_off_the_label():
    codes = {finding.code for finding in outlook({"urea": 1.0}, even(20.0)).findings}
    assert {"estimate", "released_is_not_response", "not_for_the_label"} <= codes


def test_a_blend_with_timed_nitrogen_gets_a_band_and_not_a_line():
    for kind in set(PoolKind) - {PoolKind.AT_ONCE}:
        lines = outlook({kind: 1.0}, even(20.0)).lines
        ends = [lines[pace].cumulative_lb_per_1000sqft[14] for pace in Pace]
        assert ends == sorted(ends)
        assert ends[0] < ends[-1]


pounds = st.dictionaries(st.sampled_from(list(PoolKind)), st.floats(0.01, 5.0), min_size=1)
temps = st.lists(st.floats(-10.0, 45.0), min_size=4, max_size=12)


@given(pounds, temps, st.floats(0.0, 1.5))
def test_supply_never_shrinks_never_exceeds_what_was_applied_and_the_band_is_ordered(
    n_lb, temps_c, water
):
    found = outlook(n_lb, SoilSeason("Any", tuple(temps_c), water))
    total = found.applied_n_lb_per_1000sqft
    by_pace = {
        pace: np.array(line.cumulative_lb_per_1000sqft) for pace, line in found.lines.items()
    }
    for pace, line in found.lines.items():
        assert len(line.cumulative_lb_per_1000sqft) == OUTLOOK_DAYS + 1
        assert min(line.daily_lb_per_1000sqft) >= -1e-12
        assert by_pace[pace][-1] <= total * (1 + 1e-12)
        assert sum(line.daily_lb_per_1000sqft) + found.at_once_lb_per_1000sqft == pytest.approx(
            by_pace[pace][-1]
        )
    assert (by_pace[Pace.SLOW] <= by_pace[Pace.USUAL] + 1e-12).all()
    assert (by_pace[Pace.USUAL] <= by_pace[Pace.FAST] + 1e-12).all()


def test_a_warmer_season_releases_sooner():
    seasons = demo_seasons()
    ends = [
        outlook({"triazone": 1.0}, seasons[code]).lines[Pace.USUAL].cumulative_lb_per_1000sqft[42]
        for code in ("cool_spring", "warm_spring", "summer")
    ]
    assert ends == sorted(ends)
    assert ends[-1] > 1.5 * ends[0]


@pytest.mark.parametrize(
    ("blend", "season", "field"),
    [
        (BlendPools(()), even(20.0), "pools"),
        (BlendPools((PoolNitrogen(PoolKind.UREA, -0.1),)), even(20.0), "pools.0.n_lb_per_1000sqft"),
        (
            BlendPools((PoolNitrogen(PoolKind.UREA, float("nan")),)),
            even(20.0),
            "pools.0.n_lb_per_1000sqft",
        ),
        (
            BlendPools((PoolNitrogen(PoolKind.UREA, 1.0),), not_modelled_lb_per_1000sqft=-1.0),
            even(20.0),
            "not_modelled_lb_per_1000sqft",
        ),
        (BlendPools((PoolNitrogen(PoolKind.UREA, 1.0),)), even(float("nan")), "soil_temp.0"),
        (BlendPools((PoolNitrogen(PoolKind.UREA, 1.0),)), even(72.0), "soil_temp.0"),
        (
            BlendPools((PoolNitrogen(PoolKind.UREA, 1.0),)),
            SoilSeason("Short", (20.0,) * 3, 0.8),
            "soil_temp",
        ),
        (
            BlendPools((PoolNitrogen(PoolKind.UREA, 1.0),)),
            even(20.0, float("inf")),
            "relative_water_content",
        ),
    ],
)
def test_wrong_input_is_refused_by_name(blend, season, field):
    with pytest.raises(BadProblem) as refusal:
        release_outlook(blend, season, MODEL)
    assert field in {error.field for error in refusal.value.errors}


def test_a_rate_that_runs_backwards_is_refused():
    with pytest.raises(BadProblem):
        fraction(replace(TRADE_RATE, k25_per_day=-0.1), 20)


def test_a_month_is_reached_in_its_middle_and_degrees_convert():
    season = SoilSeason("Rising", tuple(celsius(f) for f in (50.0, 68.0, 68.0, 68.0)), 1.0)
    assert season.monthly_soil_temp_c == pytest.approx((10.0, 20.0, 20.0, 20.0))
    # Flat at 10 C for half a month (0.02404 per day of ureaform x 0.1), then rising to 20 C.
    released = outlook({"ureaform": 1.0}, season).lines[Pace.USUAL].cumulative_lb_per_1000sqft
    assert -np.log1p(-released[15]) / 15 == pytest.approx(0.0068 / 2**1.5, rel=1e-3)
    late = np.log1p(-released[111]) - np.log1p(-released[112])
    assert late == pytest.approx(0.0068 / 2**0.5)


def test_each_day_has_the_temperature_of_its_noon():
    # 10 C a month of 30.4375 days; the first middle at day 15.21875 is 0 C. Day 60 at 60.5.
    rising = daily_soil_temp_c(SoilSeason("Rising", (0.0, 10.0, 20.0, 30.0), 1.0))
    assert rising[60] == pytest.approx((60.5 - 15.21875) * 10 / 30.4375)
    assert (rising[0], rising[111]) == (0.0, 30.0)
