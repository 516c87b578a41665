"""The spray sheet and its cautions."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.engine.field.spray import SprayRequest, spray_sheet
from formulas.engine.problem import BadProblem

UAN28 = {"N.urea": 14.0, "N.ammoniacal": 7.0, "N.nitrate": 7.0}
UREA = {"N.urea": 20.0}
TRIAZONE = {"N.urea": 7.84, "N.slow": 20.16}


def sheet(analysis=UAN28, density=10.67, carrier=2.0, **rest):
    if "product_fl_oz_per_1000sqft" not in rest:
        rest.setdefault("n_rate_lb_per_1000sqft", 0.5)
    return spray_sheet(SprayRequest(analysis, density, carrier, **rest))


def severities(found):
    return {caution.code: caution.severity for caution in found.cautions}


def test_the_contract_example_is_worked_out_whole():
    found = sheet(
        TRIAZONE, 10.7, 2.0, n_rate_lb_per_1000sqft=0.7, tank_gal=200.0, on_hand_gal=265.0
    )
    # By hand: 0.28 x 10.7 = 2.996 lb N/gal; 0.7 / 2.996 = 0.233645 gal = 29.9065 fl oz.
    assert found.n_lb_per_gal == pytest.approx(2.996)
    assert found.product_fl_oz_per_1000sqft == pytest.approx(29.9065, abs=1e-4)
    assert found.product_gal_per_acre == pytest.approx(10.1776, abs=1e-4)
    assert found.n_lb_per_1000sqft == pytest.approx(0.7)
    assert found.readily_available_n_lb_per_1000sqft == pytest.approx(0.196)
    assert found.slow_n_lb_per_1000sqft == pytest.approx(0.504)
    # Of the 2 gal that leave the nozzle 0.233645 are product; an acre is 43.56 times as much.
    assert found.product_gal_per_1000sqft == pytest.approx(0.233645, abs=1e-6)
    assert found.water_gal_per_1000sqft == pytest.approx(1.766355, abs=1e-6)
    assert found.carrier_gal_per_1000sqft == 2.0
    assert found.carrier_gal_per_acre == pytest.approx(87.12)
    assert found.product_per_tank_gal == pytest.approx(23.3645, abs=1e-4)
    assert found.water_per_tank_gal == pytest.approx(176.6355, abs=1e-4)
    assert found.area_per_tank_sqft == pytest.approx(100_000)
    assert found.area_on_hand_sqft == pytest.approx(1_134_200)
    assert found.area_on_hand_acres == pytest.approx(26.0376, abs=1e-4)


@given(st.floats(0.05, 1.5), st.floats(1.0, 10.0), st.floats(50.0, 500.0), st.floats(8.5, 13.0))
def test_a_tank_brings_the_rate_to_the_area_it_covers(rate, carrier, tank, density):
    found = sheet(density=density, carrier=carrier, n_rate_lb_per_1000sqft=rate, tank_gal=tank)
    n_lb = found.product_per_tank_gal * found.n_lb_per_gal
    assert n_lb == pytest.approx(rate * found.area_per_tank_sqft / 1000)
    assert found.product_per_tank_gal + found.water_per_tank_gal == pytest.approx(tank)


def test_either_rate_gives_the_same_sheet():
    by_n = sheet(n_rate_lb_per_1000sqft=0.7)
    by_product = sheet(product_fl_oz_per_1000sqft=by_n.product_fl_oz_per_1000sqft)
    assert by_product.n_lb_per_1000sqft == pytest.approx(0.7)
    assert by_product.product_gal_per_acre == pytest.approx(by_n.product_gal_per_acre)


def test_tank_and_area_stay_unknown_when_not_asked():
    found = sheet()
    assert found.product_per_tank_gal is None
    assert found.water_per_tank_gal is None
    assert found.area_per_tank_sqft is None
    assert found.area_on_hand_sqft is None
    assert found.area_on_hand_acres is None


@pytest.mark.parametrize(
    ("rate", "carrier", "air_temp_f", "severity"),
    [
        (0.25, 1.0, 70.0, "info"),  # 0.25 lb/gal
        (0.26, 1.0, 70.0, "caution"),
        (0.5, 1.0, 70.0, "caution"),  # 0.5 lb/gal
        (0.51, 1.0, 70.0, "stop"),
        (0.5, 2.0, 85.0, "info"),
        (0.5, 2.0, 85.1, "caution"),  # one class higher in the heat
        (0.5, 1.0, 95.0, "stop"),
        (1.0, 1.0, 95.0, "stop"),
    ],
)
def test_burn_grows_with_quick_n_per_gallon_and_with_heat(rate, carrier, air_temp_f, severity):
    found = sheet(UREA, 9.34, carrier, n_rate_lb_per_1000sqft=rate, air_temp_f=air_temp_f)
    assert severities(found)["burn"] == severity


def test_urea_is_cautioned_at_every_dilution_of_the_iowa_trial_and_triazone_never_more():
    # Agnew and Moore 1989: 1 lb N/1000 sq ft in 1, 2 and 4 gal, very hot weather: urea burned
    # at every dilution, urea-triazone gave no appreciable damage.
    for carrier in (1.0, 2.0, 4.0):
        urea = sheet(UREA, 9.34, carrier, n_rate_lb_per_1000sqft=1.0, air_temp_f=95.0)
        assert severities(urea)["burn"] != "info"
        triazone = sheet(
            TRIAZONE,
            10.7,
            carrier,
            n_rate_lb_per_1000sqft=1.0,
            air_temp_f=95.0,
            triazone_n_pct=20.16,
        )
        order = ("info", "caution", "stop")
        assert order.index(severities(triazone)["burn"]) <= order.index(severities(urea)["burn"])
    cool = sheet(TRIAZONE, 10.7, 4.0, n_rate_lb_per_1000sqft=1.0, air_temp_f=70.0)
    assert severities(cool)["burn"] == "info"


@pytest.mark.parametrize(("rate", "severity"), [(0.504, "info"), (0.505, "caution")])
def test_triazone_nitrogen_counts_for_three_tenths_of_quick(rate, severity):
    # Quick 0.28 and slow 0.72 of the rate: 0.28 + 0.3 x 0.72 = 0.496 of it burns.
    found = sheet(
        TRIAZONE, 10.7, 1.0, n_rate_lb_per_1000sqft=rate, air_temp_f=70.0, triazone_n_pct=20.16
    )
    assert severities(found)["burn"] == severity


@pytest.mark.parametrize(("rate", "severity"), [(0.25, "info"), (0.26, "caution"), (0.51, "stop")])
def test_slow_nitrogen_not_known_as_triazone_burns_in_full(rate, severity):
    # Agnew and Moore 1989 saw methylolurea burn; no factor for methylene urea is published.
    found = sheet(TRIAZONE, 10.7, 1.0, n_rate_lb_per_1000sqft=rate, air_temp_f=70.0)
    assert severities(found)["burn"] == severity


def test_no_more_triazone_than_slow_nitrogen_is_believed():
    with pytest.raises(BadProblem) as refusal:
        sheet(TRIAZONE, 10.7, triazone_n_pct=20.2)
    assert [error.field for error in refusal.value.errors] == ["triazone_n_pct"]


def test_slow_nitrogen_counts_fully_against_the_rate_of_an_application():
    found = sheet(TRIAZONE, 10.7, 4.0, n_rate_lb_per_1000sqft=1.1)
    assert "rate" in severities(found)
    assert "readily_available_n" not in severities(found)


def test_without_a_temperature_the_burn_caution_says_what_heat_would_do():
    (burn,) = (c for c in sheet().cautions if c.code == "burn")
    assert "Above 85 F" in burn.message
    assert "Agnew and Moore 1989" in burn.source


def test_every_sheet_carries_the_usual_cautions_with_sources():
    found = sheet(n_rate_lb_per_1000sqft=0.1, carrier=4.0)
    usual = {"water_in", "drought", "impervious", "water_bodies", "local_rules"}
    assert usual <= set(severities(found))
    assert all(caution.source for caution in found.cautions)


@pytest.mark.parametrize(
    ("code", "worse", "better"),
    [
        ("low_volume", {"carrier": 0.9}, {"carrier": 1.0}),
        ("rate", {"n_rate_lb_per_1000sqft": 1.01}, {"n_rate_lb_per_1000sqft": 1.0}),
        ("readily_available_n", {"n_rate_lb_per_1000sqft": 0.71}, {"n_rate_lb_per_1000sqft": 0.7}),
        ("heat", {"air_temp_f": 90.0}, {"air_temp_f": 80.0}),
        ("iron_stain", {"analysis": {**UAN28, "Fe": 0.5}}, {"analysis": UAN28}),
        ("phosphorus", {"analysis": {**UAN28, "P2O5": 1.0}}, {"analysis": UAN28}),
        ("water_soluble_slow_n", {"analysis": TRIAZONE}, {"analysis": UAN28}),
    ],
)
def test_a_caution_appears_when_it_applies_and_only_then(code, worse, better):
    assert code in severities(sheet(**worse))
    assert code not in severities(sheet(**better))


def test_more_product_than_spray_is_refused_in_gallons():
    with pytest.raises(BadProblem) as refusal:
        sheet(carrier=0.1)
    (error,) = refusal.value.errors
    assert error.field == "carrier_gal_per_1000sqft"
    assert "0.17 gal" in error.message


def test_undiluted_product_is_stopped():
    found = sheet(product_fl_oz_per_1000sqft=128.0, carrier=1.0)
    assert severities(found)["undiluted"] == "stop"
    # 0.05 gal of water in a gallon is thin, but it is there.
    nearly = sheet(product_fl_oz_per_1000sqft=121.6, carrier=1.0)
    assert "undiluted" not in severities(nearly)


@pytest.mark.parametrize(("rate", "advised"), [(0.25, False), (0.26, True), (0.51, True)])
def test_from_a_raised_risk_of_burn_on_it_is_said_what_lowers_it(rate, advised):
    found = sheet(UREA, 9.34, 1.0, n_rate_lb_per_1000sqft=rate, air_temp_f=70.0)
    (burn,) = (c for c in found.cautions if c.code == "burn")
    assert ("Use more water, less N or a slower blend" in burn.message) is advised


def test_a_product_without_nitrogen_is_rated_in_fluid_ounces():
    found = sheet({"K2O": 24.0}, 10.66, product_fl_oz_per_1000sqft=6.0)
    assert found.n_lb_per_1000sqft == 0
    assert "burn" not in severities(found)
    with pytest.raises(BadProblem, match="holds no nitrogen"):
        sheet({"K2O": 24.0}, 10.66)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
@pytest.mark.parametrize(
    "field",
    [
        "density_lb_per_gal",
        "carrier_gal_per_1000sqft",
        "n_rate_lb_per_1000sqft",
        "tank_gal",
        "on_hand_gal",
    ],
)
def test_a_bad_number_is_refused_by_its_field(field, bad):
    good = {
        "density_lb_per_gal": 10.67,
        "carrier_gal_per_1000sqft": 2.0,
        "n_rate_lb_per_1000sqft": 0.5,
    }
    with pytest.raises(BadProblem) as refusal:
        spray_sheet(SprayRequest(analysis=UAN28, **{**good, field: bad}))
    assert [error.field for error in refusal.value.errors] == [field]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"analysis": {"N": 28.0}}, "analysis.N"),
        ({"analysis": {"N.urea": -1.0}}, "analysis.N.urea"),
        ({"air_temp_f": 900.0}, "air_temp_f"),
        ({"air_temp_f": 130.1}, "air_temp_f"),
        ({"air_temp_f": -40.1}, "air_temp_f"),
        ({"air_temp_f": float("nan")}, "air_temp_f"),
        (
            {"product_fl_oz_per_1000sqft": 6.0, "n_rate_lb_per_1000sqft": 0.5},
            "n_rate_lb_per_1000sqft",
        ),
    ],
)
def test_a_wrong_request_is_refused_by_its_field(change, field):
    with pytest.raises(BadProblem) as refusal:
        sheet(**change)
    assert [error.field for error in refusal.value.errors] == [field]


@pytest.mark.parametrize("air_temp_f", [-40.0, 130.0])
def test_the_coldest_and_the_hottest_air_are_believed(air_temp_f):
    assert sheet(air_temp_f=air_temp_f).cautions


def test_a_rate_is_needed():
    with pytest.raises(BadProblem, match="Give either"):
        spray_sheet(SprayRequest(UAN28, 10.67, 2.0))
