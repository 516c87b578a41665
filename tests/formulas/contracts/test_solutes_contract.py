"""Stocks of a request may say what is dissolved in them; without it nothing changes."""

import copy
from typing import Any

import pytest

from blendshop.errors import BadInput
from formulas.contracts.formulation import formulate

UAN32 = {
    "code": "UAN32",
    "density_lb_per_gal": 11.06,
    "cost_per_lb": "0.17",
    "analysis": {"N.urea": 16, "N.ammoniacal": 8, "N.nitrate": 8},
}
WATER = {"code": "W", "density_lb_per_gal": 8.337, "cost_per_lb": "0", "traits": ["water"]}
CUT: dict[str, Any] = {
    "stocks": [UAN32, WATER],
    "recipe": [{"code": "UAN32", "pct": 87.5}, {"code": "W", "pct": 12.5}],
    "fill": {"volume_gal": 265},
}


def with_solutes(solutes: Any) -> dict[str, Any]:
    body = copy.deepcopy(CUT)
    body["stocks"][0]["solutes"] = solutes
    return body


def totals(body: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = formulate(body, catalogue=None).answer.contract_json()["totals"]
    return found


def test_a_tote_of_28_cut_from_32_is_filled_in_full() -> None:
    """Published: 10.67 lb/gal, 2,828 lb in 265 gal (Virginia Cooperative Extension SPES-199NP)."""
    ideal, known = totals(CUT), totals(with_solutes({"urea": 34.3, "NH4NO3": 45.7}))
    assert known["density_lb_per_gal"] == pytest.approx(10.67, rel=0.003)
    assert ideal["density_lb_per_gal"] == round(1 / (0.875 / 11.06 + 0.125 / 8.337), 6)
    assert 2828 - known["mass_lb"] < 0.6 * (2828 - ideal["mass_lb"])
    assert known["volume_gal"] == ideal["volume_gal"] == 265


def test_no_solutes_and_none_given_are_the_same_bytes() -> None:
    plain = formulate(CUT, catalogue=None).answer.contract_json()
    assert formulate(with_solutes({}), catalogue=None).answer.contract_json() == plain
    assert formulate(with_solutes(None), catalogue=None).answer.contract_json() == plain


@pytest.mark.parametrize(
    ("solutes", "path"),
    [
        ({"NaCl": 10}, "stocks.0.solutes.NaCl"),
        ({"KCl": -1}, "stocks.0.solutes.KCl"),
        ({"KCl": "ten"}, "stocks.0.solutes.KCl"),
        ({"KCl": 60, "urea": 50}, "stocks.0.solutes"),
        ([], "stocks.0.solutes"),
    ],
)
def test_wrong_solutes_are_refused_at_their_place(solutes: Any, path: str) -> None:
    with pytest.raises(BadInput) as refused:
        formulate(with_solutes(solutes), catalogue=None)
    assert path in refused.value.fields
