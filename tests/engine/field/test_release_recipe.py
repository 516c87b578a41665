"""Which pool a blend's nitrogen belongs to, judged from the recipe."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine import BadProblem, Share, Stock
from formulas.engine.field.release_pools import PoolKind, blend_pools
from formulas.reference import base_stocks

STOCKS = tuple(
    Stock(s.code, s.name, s.density_lb_per_gal, 0.0, s.analysis, traits=s.traits)
    for s in base_stocks()
)
UREAFORM = Stock("UF", "Ureaform suspension", 10.0, 0.4, {"N.insoluble": 5.0, "N.urea": 10.0})
UNKNOWN = Stock("X", "Slow stock without a trait", 10.0, 0.4, {"N.slow": 20.0})
ALL = (*STOCKS, UREAFORM, UNKNOWN)


def pools(rate=1.0, **pct):
    shares = [Share(code, share) for code, share in pct.items()]
    return blend_pools(shares, ALL, n_rate_lb_per_1000sqft=rate)


def pounds(found):
    return {pool.kind.value: pool.n_lb_per_1000sqft for pool in found.pools}


def test_slow_nitrogen_follows_the_traits_of_its_stock():
    # 28 lb N of 100 lb: 72 % triazone; 30 lb: 60 % methylene urea; shares half and half.
    found = pounds(pools(29.0, TRIAZONE28=50, MU30=50))
    assert found == pytest.approx(
        {"urea": 0.5 * 19.84, "triazone": 0.5 * 20.16, "methylene_urea": 0.5 * 18.0}
    )


def test_insoluble_nitrogen_is_ureaform_and_nitrate_and_ammonium_are_there_at_once():
    # UAN: half urea, a quarter each of nitrate and ammonium (IPNI).
    found = pounds(pools(0.5 * 32 + 0.5 * 15, UAN32=50, UF=50))
    assert found == pytest.approx({"at_once": 8.0, "urea": 8.0 + 5.0, "ureaform": 2.5})


@pytest.mark.parametrize(
    ("inhibitors", "kind", "codes"),
    [
        ({}, "urea", set()),
        ({"NBPT25": 0.5}, "urea_nbpt", set()),
        ({"NBPT25": 0.5, "DCD20": 2.0}, "urea_nbpt_dcd", {"slow_n_not_modelled"}),
        ({"DCD20": 2.0}, "urea", {"dcd_and_urea", "slow_n_not_modelled"}),
        ({"NBPT25": 0.001}, "urea", {"nbpt_dose"}),
    ],
)
def test_the_inhibitors_in_the_tank_decide_the_pool_of_urea(inhibitors, kind, codes):
    found = pools(UREA20=100 - sum(inhibitors.values()), **inhibitors)
    assert [pool.kind for pool in found.pools] == [PoolKind(kind)]
    assert {finding.code for finding in found.findings} == codes


def test_the_lowest_dose_that_counts_is_the_lowest_that_was_published():
    # 20 % N as urea = 42.9 % urea; 0.005 % of that is 0.002144 % NBPT, or 0.0086 % of a 25 %
    # concentrate (Watson: 0.005 % nBTPT by weight of urea).
    below, above = (pools(UREA20=100 - share, NBPT25=share) for share in (0.0085, 0.0087))
    assert [pool.kind for pool in below.pools] == [PoolKind.UREA]
    assert [pool.kind for pool in above.pools] == [PoolKind.UREA_NBPT]


def test_an_inhibitor_without_urea_changes_nothing():
    found = blend_pools([Share("X", 90.0), Share("NBPT25", 10.0)], ALL, n_rate_lb_per_1000sqft=1.0)
    assert found.pools == ()


def test_slow_nitrogen_without_a_published_rate_is_named_and_set_apart():
    found = pools(2.0, X=50, UREA20=50)
    assert found.not_modelled_lb_per_1000sqft == pytest.approx(1.0)
    (finding,) = found.findings
    assert "50 % of the nitrogen is slow nitrogen of Slow stock without a trait" in finding.message
    assert finding.severity == "caution"


@given(st.lists(st.integers(0, 9), min_size=len(ALL), max_size=len(ALL)), st.floats(0.1, 2.0))
def test_every_pound_of_nitrogen_is_in_exactly_one_place(parts, rate):
    if sum(part for part, stock in zip(parts, ALL, strict=True) if stock.analysis) == 0:
        return
    shares = [
        Share(stock.code, 100 * part / sum(parts))
        for part, stock in zip(parts, ALL, strict=True)
        if part
    ]
    try:
        found = blend_pools(shares, ALL, n_rate_lb_per_1000sqft=rate)
    except BadProblem as refusal:
        assert [e.message for e in refusal.errors] == ["The blend holds no nitrogen."]  # noqa: PT017
    else:
        assert found.applied_n_lb_per_1000sqft == pytest.approx(rate)


@pytest.mark.parametrize(
    ("shares", "rate", "field"),
    [
        ([Share("UREA20", 100.0)], 0.0, "n_rate_lb_per_1000sqft"),
        ([Share("UREA20", 100.0)], float("nan"), "n_rate_lb_per_1000sqft"),
        ([Share("UREA20", 90.0)], 1.0, "recipe"),
        ([Share("NOBODY", 100.0)], 1.0, "recipe.0.code"),
        ([Share("WATER", 100.0)], 1.0, "recipe"),
    ],
)
def test_wrong_input_is_refused_by_name(shares, rate, field):
    with pytest.raises(BadProblem) as refusal:
        blend_pools(shares, ALL, n_rate_lb_per_1000sqft=rate)
    assert field in {error.field for error in refusal.value.errors}
