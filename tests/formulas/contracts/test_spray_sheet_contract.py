"""The spray-sheet contract: every key, figures worked by hand, refusals by field."""

import json
from typing import Any

import pytest

from blendshop.errors import BadInput
from formulas.contracts import formulation

REQUEST: dict[str, Any] = {
    "analysis": {"N.urea": 7.84, "N.slow": 20.16},
    "density_lb_per_gal": 10.7,
    "n_rate_lb_per_1000sqft": 0.7,
    "carrier_gal_per_1000sqft": 2.0,
    "tank_gal": 200,
    "on_hand_gal": 265,
    "cost_per_gal": "4.10",
}
CONTRACT_KEYS = {
    "n_lb_per_gal", "product_fl_oz_per_1000sqft", "product_gal_per_acre",
    "readily_available_n_lb_per_1000sqft", "slow_n_lb_per_1000sqft", "product_per_tank_gal",
    "area_per_tank_sqft", "area_on_hand_acres", "cost_per_1000sqft", "cautions",
}  # fmt: skip


def spray_sheet(body: Any) -> dict[str, Any]:
    return formulation.spray_sheet(body).contract_json()


def changed(**changes: Any) -> dict[str, Any]:
    body = {**REQUEST, **changes}
    return {key: value for key, value in body.items() if value is not None}


def test_the_answer_has_every_key_of_the_contract_and_is_plain_json() -> None:
    found = json.loads(json.dumps(spray_sheet(REQUEST), allow_nan=False))
    assert found.keys() >= CONTRACT_KEYS
    for caution in found["cautions"]:
        assert caution.keys() == {"code", "severity", "message", "source"}
        assert all(caution.values())


def test_the_figures_follow_by_hand() -> None:
    """28 % of 10.7 lb is 2.996 lb N a gallon; 0.7 lb of N is 0.7 / 2.996 gal of product."""
    found = spray_sheet(REQUEST)
    gallons = 0.7 / 2.996
    assert found["n_lb_per_gal"] == 2.996
    assert found["product_fl_oz_per_1000sqft"] == pytest.approx(gallons * 128, abs=1e-5)
    assert found["product_gal_per_acre"] == pytest.approx(gallons * 43.56, abs=1e-5)
    assert found["readily_available_n_lb_per_1000sqft"] == pytest.approx(0.7 * 7.84 / 28)
    assert found["slow_n_lb_per_1000sqft"] == pytest.approx(0.7 * 20.16 / 28)
    assert found["product_per_tank_gal"] == pytest.approx(200 * gallons / 2, abs=1e-5)
    assert found["area_per_tank_sqft"] == 100_000
    assert found["area_on_hand_acres"] == pytest.approx(265 / gallons / 43.56, abs=1e-5)
    assert found["cost_per_1000sqft"] == "0.9579"  # 4.10 x 0.233645


def test_a_rate_in_fluid_ounces_gives_the_same_sheet() -> None:
    ounces = 0.7 / 2.996 * 128
    by_volume = spray_sheet(changed(n_rate_lb_per_1000sqft=None, product_fl_oz_per_1000sqft=ounces))
    assert by_volume == spray_sheet(REQUEST)


def test_a_formulations_own_analysis_may_be_passed_on_with_its_total() -> None:
    assert spray_sheet(changed(analysis={"N": 28.0, **REQUEST["analysis"]})) == spray_sheet(REQUEST)


def test_what_is_not_asked_for_is_null() -> None:
    found = spray_sheet(changed(tank_gal=None, on_hand_gal=None, cost_per_gal=None))
    for key in ("product_per_tank_gal", "area_per_tank_sqft", "area_on_hand_acres",
                "cost_per_1000sqft"):  # fmt: skip
        assert found[key] is None


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"analysis": None}, "analysis"),
        ({"analysis": {"N": 28}}, "analysis.N"),
        ({"analysis": {"N": 27, "N.urea": 28}}, "analysis.N"),
        ({"analysis": {"N.urea": float("nan")}}, "analysis.N.urea"),
        ({"density_lb_per_gal": None}, "density_lb_per_gal"),
        ({"density_lb_per_gal": 0}, "density_lb_per_gal"),
        ({"carrier_gal_per_1000sqft": None}, "carrier_gal_per_1000sqft"),
        ({"carrier_gal_per_1000sqft": True}, "carrier_gal_per_1000sqft"),
        ({"carrier_gal_per_1000sqft": 0.1}, "carrier_gal_per_1000sqft"),
        ({"n_rate_lb_per_1000sqft": None}, "n_rate_lb_per_1000sqft"),
        ({"product_fl_oz_per_1000sqft": 30}, "n_rate_lb_per_1000sqft"),
        ({"analysis": {"K2O": 24}}, "n_rate_lb_per_1000sqft"),
        ({"tank_gal": -1}, "tank_gal"),
        ({"on_hand_gal": float("inf")}, "on_hand_gal"),
        ({"air_temp_f": 900}, "air_temp_f"),
        ({"cost_per_gal": "NaN"}, "cost_per_gal"),
        ({"rate": 1}, "rate"),
    ],
)
def test_bad_input_is_refused_at_its_place(changes: dict[str, Any], path: str) -> None:
    with pytest.raises(BadInput) as refused:
        spray_sheet(changed(**changes))
    assert list(refused.value.fields) == [path]
