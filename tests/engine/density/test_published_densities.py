"""Densities against published figures and against coefficients worked through elsewhere."""

import pytest

from formulas.engine import Share, evaluate
from formulas.engine.density.mixing import LARGEST_MISS_PCT, model_gal_per_lb, volume_gal
from formulas.engine.density.reference_temperature import density_at_60_f
from formulas.engine.density.solutes import REFERENCE_C, SOLUTES, water_kg_per_l
from formulas.engine.units import KG_PER_LB, L_PER_GAL, celsius
from tests.engine.density.solutions import STRONG, UAN32, WATER, solution

LB_PER_GAL = L_PER_GAL / KG_PER_LB


def lb_per_gal(percent, at_f):
    fractions = {key: pct / 100 for key, pct in percent.items()}
    return 1 / model_gal_per_lb(fractions, celsius(at_f))


@pytest.mark.parametrize(
    ("percent", "at_f", "expected"),
    [
        ({"KCl": 21.85}, 60, 9.581),
        ({"(NH4)2SO4": 38}, 60, 10.170),
        ({"NH4NO3": 50}, 68, 10.231),
        ({"CH3COOK": 50}, 60, 10.655),
        ({"KOH": 45}, 60, 12.151),
        ({"K2CO3": 36}, 68, 11.376),
        ({"Mg(NO3)2": 33.5}, 60, 10.827),
        ({"MgSO4": 20}, 68, 10.173),
        ({"H3PO4": 75}, 68, 13.154),
        ({"KNO3": 10, "NH4NO3": 20}, 68, 9.629),
        ({"(NH4)2SO4": 15, "KCl": 10}, 60, 9.641),
        ({"MgSO4": 8, "FeSO4": 4, "MnSO4": 2}, 68, 9.585),
    ],
)
def test_the_model_as_two_open_packages_work_it_out(percent, at_f, expected):
    """PyPI ``chemicals`` 1.5.2 and ``thermo`` 0.6.1 (Laliberte density), equal to 4 decimals."""
    assert lb_per_gal(percent, at_f) == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(
    ("percent", "at_f", "expected"),
    [
        ({"KH2PO4": 15}, 68, 9.25),
        ({"K2HPO4": 18}, 68, 9.70),
        ({"CuSO4": 15}, 60, 9.77),
        ({"Na2MoO4": 20}, 68, 9.95),
        ({"Na2MoO4": 35}, 68, 11.53),
        ({"MnSO4": 30}, 60, 11.35),
        ({"ZnSO4": 30}, 60, 11.55),
        ({"Ca(NO3)2": 45}, 60, 11.90),
        ({"K2S2O3": 50.5}, 60, 12.17),
    ],
)
def test_further_solutions_worked_with_the_same_packages(percent, at_f, expected):
    assert lb_per_gal(percent, at_f) == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize(
    ("percent", "kg_per_l", "within"),
    [
        # CRC Handbook, "Concentrative properties of aqueous solutions", 20 C (web copy).
        ({"(NH4)2SO4": 40}, 1.2277, 0.0015),
        ({"MgSO4": 20}, 1.2198, 0.0015),
        ({"MnSO4": 20}, 1.2203, 0.003),
        ({"H3PO4": 40}, 1.2536, 0.0015),
        ({"ZnSO4": 10}, 1.1071, 0.0015),
        # Polish physico-chemical table, 20 C (web copy).
        ({"NH4NO3": 40}, 1.175, 0.0015),
        ({"NH4NO3": 50}, 1.226, 0.0015),
        ({"NH4NO3": 55}, 1.252, 0.0015),
        # ISO 22241-1, band of 32.5 % urea at 20 C: 1.0870 to 1.0930 (web copy).
        ({"urea": 32.5}, 1.0900, 0.0030),
        # Gucker, Gage and Moser 1938 as a quadratic at 25 C: 20 %, taken at 20 C here.
        ({"urea": 20.0}, 1.0525, 0.0025),
    ],
)
def test_published_solutions_at_68_f(percent, kg_per_l, within):
    assert lb_per_gal(percent, 68) / LB_PER_GAL == pytest.approx(kg_per_l, rel=within)


def test_water_as_iapws_95_has_it():
    """8.3372 lb/gal at 60 F, 8.3304 at 68 F, 8.3171 at 80 F (IAPWS-95)."""
    for at_f, expected in ((60, 8.3372), (68, 8.3304), (80, 8.3171)):
        assert water_kg_per_l(celsius(at_f)) * LB_PER_GAL == pytest.approx(expected, abs=1.5e-4)


def test_uan_32_cut_to_28_is_the_published_28():
    """10.67 lb/gal at 60 F (Virginia Cooperative Extension SPES-199NP) within 0.3 %."""
    cut = evaluate([UAN32, WATER], [Share("UAN32", 87.5), Share("WATER", 12.5)])
    assert cut.density_lb_per_gal == pytest.approx(10.67, rel=0.003)
    ideal = 1 / (0.875 / 11.06 + 0.125 / WATER.density_lb_per_gal)
    assert ideal < 10.67 * (1 - 0.004)
    assert abs(cut.density_lb_per_gal - 10.67) < 0.6 * abs(ideal - 10.67)


def test_uan_32_cut_to_30():
    """1.303 at 16 C in a UNIDO and IFDC manual's table (web copy), 10.90 lb/gal in extension's."""
    cut = evaluate([UAN32, WATER], [Share("UAN32", 93.75), Share("WATER", 6.25)])
    assert cut.density_lb_per_gal == pytest.approx(1.303 * 8.3372, rel=0.003)
    assert cut.density_lb_per_gal == pytest.approx(10.90, rel=0.005)


@pytest.mark.parametrize("strong", STRONG, ids=lambda stock: stock.code)
def test_a_salt_cut_with_water_is_the_weaker_salt(strong):
    """Any strength of one solute: the published equation for that strength within 0.3 %.

    A stock's own density stays exact; what its certificate differs from the equation fades out.
    """
    for tenth in range(1, 11):
        share = tenth / 10
        weaker = {key: pct * share for key, pct in strong.solutes.items()}
        density = 1 / volume_gal([strong, WATER], [share, 1 - share])
        assert density == pytest.approx(lb_per_gal(weaker, 60), rel=0.003), tenth
    assert 1 / volume_gal([strong, WATER], [1.0, 0.0]) == pytest.approx(
        strong.density_lb_per_gal, rel=1e-12
    )


def test_ideal_mixing_was_a_percent_off():
    """The reason for all this: half ammonium sulfate 38 %, half water, is 19 % of it."""
    strong = solution("AMS8", 10.17, **{"(NH4)2SO4": 38.0})
    ideal = 1 / (0.5 / 10.17 + 0.5 / WATER.density_lb_per_gal)
    truth = lb_per_gal({"(NH4)2SO4": 19.0}, 60)
    assert (ideal / truth - 1) * 100 == pytest.approx(-1.1, abs=0.05)
    assert 1 / volume_gal([strong, WATER], [0.5, 0.5]) == pytest.approx(truth, rel=1e-4)


@pytest.mark.parametrize(
    ("percent", "slope"),
    [
        ({"MgSO4": 20}, 0.0009),
        ({"(NH4)2SO4": 38}, 0.0011),
        ({"ZnSO4": 30}, 0.0012),
        ({"MnSO4": 30}, 0.0016),
        ({"KCl": 22}, 0.0019),
        ({"NH4NO3": 50}, 0.0022),
        ({"KOH": 45}, 0.0023),
        ({"CH3COOK": 50}, 0.0025),
        ({"Mg(NO3)2": 33}, 0.0028),
        ({"H3PO4": 75}, 0.0033),
        # UAN on extension tables; nothing but published densities at 30 and 60 F.
        ({"NH4NO3": 40, "urea": 30}, 0.003),
    ],
)
def test_how_much_density_a_degree_costs(percent, slope):
    """lb/gal per F between 60 and 68 F, worked from the same coefficients elsewhere."""
    fall = (density_at_60_f(lb_per_gal(percent, 68), 68, percent) - lb_per_gal(percent, 68)) / 8
    assert fall == pytest.approx(slope, abs=0.0004)


def test_ferrous_sulfate_is_denser_when_cold():
    """The published fit has it the other way round. International Critical Tables: 1.145, 18 C."""
    assert lb_per_gal({"FeSO4": 14}, 60) > lb_per_gal({"FeSO4": 14}, 68)
    assert lb_per_gal({"FeSO4": 14}, 64.4) / LB_PER_GAL == pytest.approx(1.145, rel=0.004)


def test_no_volume_runs_away_beyond_its_data():
    """Solids are the limit: nothing dissolved takes more than 1 L/kg or much less than nothing."""
    for solute in SOLUTES.values():
        for hundredth in range(0, 90, 5):
            assert -0.1 < solute.l_per_kg(hundredth / 100, REFERENCE_C) < 1.0, solute.key


def test_thiosulfates_are_estimates_within_two_percent():
    """K2S2O3 50.5 % at 12.2 lb/gal, (NH4)2S2O3 60 % at 11.04 (Kansas extension sheet)."""
    assert lb_per_gal({"K2S2O3": 50.5}, 60) == pytest.approx(12.2, rel=0.02)
    assert lb_per_gal({"(NH4)2S2O3": 60.0}, 60) == pytest.approx(11.04, rel=0.02)
    assert LARGEST_MISS_PCT > 2
