"""Release facts: every rate sourced and within bounds, a wrong table refused by name."""

from pathlib import Path

import pytest

import formulas.reference
from formulas.engine.field.release import Pace
from formulas.engine.field.release_pools import PoolKind
from formulas.engine.mark import Mark
from formulas.reference import ReferenceDataError
from formulas.reference.release_pools import demo_seasons, release_model

SHIPPED = Path(formulas.reference.__file__).parent / "release_pools.toml"
MODEL = release_model()


def test_every_rate_carries_a_mark_and_a_source():
    for pool in MODEL.pools.values():
        for rate in pool.rates.values():
            assert rate.mark in set(Mark)
            assert rate.source.strip()


def test_the_rates_are_those_worked_out_from_the_studies():
    # Lasisi and Akinremi 2020: 0.19, 0.08, 0.11 per day over 5 to 25 C, 0.20 at 25 C of a mean
    # of 0.13 over 5, 15 and 25 C (0.127 at the mean of 0.07, 0.12, 0.19 before rounding).
    usual = {kind: MODEL.pools[kind].rates[Pace.USUAL].k25_per_day for kind in MODEL.pools}
    assert usual[PoolKind.UREA] == pytest.approx(0.19 * 0.20 / 0.127, abs=0.001)
    assert usual[PoolKind.UREA_NBPT] == pytest.approx(0.08 * 0.20 / 0.127, abs=0.001)
    assert usual[PoolKind.UREA_NBPT_DCD] == pytest.approx(0.11 * 0.20 / 0.127, abs=0.004)


def test_what_only_the_trade_says_is_marked_so():
    assert MODEL.pools[PoolKind.TRIAZONE].rates[Pace.SLOW].mark == Mark.COMMON_PRACTICE
    assert {expectation.mark for expectation in MODEL.trade} == {Mark.COMMON_PRACTICE}


def test_the_seasons_are_marked_as_demo_and_rise_in_spring():
    seasons = demo_seasons()
    assert tuple(seasons) == ("cool_spring", "warm_spring", "summer")
    assert {season.mark for season in seasons.values()} == {Mark.DEMO}
    for code in ("cool_spring", "warm_spring"):
        temps = seasons[code].monthly_soil_temp_c
        assert list(temps) == sorted(temps)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('kind = "triazone"', 'kind = "polymer"', "kind is unknown: 'polymer'"),
        ('kind = "triazone"', 'kind = "urea"', "stands twice: 'urea'"),
        ("k25_per_day = 0.30", "k25_per_day = 0.10", "must rise from slow to fast"),
        ("k25_per_day = 0.30", "k25_per_day = nan", "not a finite number"),
        ("q10 = 1.7", "q10 = 17", "q10 is 17, outside"),
        ('source = ["LASISI20"]', 'source = ["HEARSAY"]', "unknown publication: 'HEARSAY'"),
        ("microbial = false", 'microbial = "no"', "microbial must be true or false"),
        ("microbial = false", "microbial = false\ncolour = 1", "colour is not a known key"),
        ('concerns = ["triazone"]', 'concerns = ["resin"]', "concerns must name pools"),
        ("days_high = 56", "days_high = 5", "days_low is 42, outside"),
        ("[model]\n", "[modle]\n", "modle is not a known table"),
        ("slow = 30.0", "slow = 300.0", "slow is 300.0, outside"),
        ("value = 0.005, mark", "mark", "value is missing"),
    ],
)
def test_a_wrong_table_is_refused_by_name(tmp_path, old, new, said):
    text = SHIPPED.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    (tmp_path / SHIPPED.name).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"^release_pools\.toml") as refusal:
        release_model(tmp_path)
    assert said in str(refusal.value)


def test_a_missing_pool_is_named(tmp_path):
    text = SHIPPED.read_text(encoding="utf-8")
    start, end = text.index('[[pool]]\nkind = "ureaform"'), text.index("[[trade]]")
    (tmp_path / SHIPPED.name).write_text(text[:start] + text[end:], encoding="utf-8")
    with pytest.raises(ReferenceDataError, match="holds no pool ureaform"):
        release_model(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[46, 52, 58, 64]", "[46, 52, 58]", "Give 4 to 12 monthly"),
        ("[46, 52, 58, 64]", "[46, 52, 58, 640]", "Must be a soil temperature"),
        ("[46, 52, 58, 64]", '[46, 52, 58, "64"]', "must be a list of numbers"),
        ('code = "summer"', 'code = "cool_spring"', "stands twice"),
        ('mark = "demo"', 'mark = "verified"', "must be demo"),
    ],
)
def test_a_wrong_season_is_refused_by_name(tmp_path, old, new, said):
    text = SHIPPED.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    (tmp_path / SHIPPED.name).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError, match=r"^release_pools\.toml") as refusal:
        demo_seasons(tmp_path)
    assert said in str(refusal.value)
