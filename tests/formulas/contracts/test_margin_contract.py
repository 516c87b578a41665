"""``margin`` of the formulation contract: guarantees that hold in the batch as made."""

from decimal import Decimal
from typing import Any

import pytest

from blendshop.errors import BadInput
from formulas.contracts.formulation import formulate
from tests.formulas.sample_wishes import wish

MARGIN: dict[str, Any] = {
    "chance": 0.01,
    "usual_assay": {"strength_rsd_pct": 1.0},
    "scale": {"absolute_lb": 1.0, "relative_pct": 0.1},
}


def _answer(**changes: Any) -> dict[str, Any]:
    return formulate(wish(**changes), catalogue=None).answer.contract_json()


def test_the_recipe_aims_above_the_guarantee_by_the_wanted_chance() -> None:
    plain, held = _answer(), _answer(margin=MARGIN)
    by_key = {item["key"]: item for item in held["margin"]["guarantees"]}
    assert set(by_key) == {"N", "K2O", "slow_release_pct"}
    n = by_key["N"]
    margin = held["margin"]
    # One guarantee alone would need 2.326, the 99 % quantile of the standard normal distribution
    # (any printed table), three independent ones 2.713, that of a third of the chance.
    assert 2.326 < margin["standard_deviations"] < 2.7131
    z = margin["standard_deviations"]
    assert held["analysis"]["N"] == pytest.approx(24 + z * n["sigma_pct"], abs=1e-4)
    assert n["guarantee_pct"] == 24
    assert n["chance_below_guarantee"] < margin["chance_any_missed"] <= 0.01 * 1.001
    assert margin["chance_deficient_any"] < margin["chance_any_missed"]
    assert margin["chance_index_low"] < 0.01
    assert n["chance_deficient"] < n["chance_below_guarantee"]
    added = Decimal(held["totals"]["cost_per_lb"]) - Decimal(plain["totals"]["cost_per_lb"])
    assert Decimal(held["margin"]["cost_per_lb"]) == pytest.approx(added, abs=Decimal("0.0001"))
    assert added > 0


def test_a_stock_of_its_own_spread_moves_the_aim() -> None:
    steady = _answer(margin=MARGIN)
    wild = _answer(margin=MARGIN | {"assay": {"TRZ": {"strength_rsd_pct": 4.0}}})
    assert wild["analysis"]["N"] > steady["analysis"]["N"]


def test_without_margin_nothing_is_said_of_it() -> None:
    assert "margin" not in _answer()


def test_out_of_reach_with_the_margin_alone_says_so() -> None:
    body = wish(margin=MARGIN, targets=[{"nutrient": "N", "min": 24, "max": 24.05}])
    answer = formulate(body, catalogue=None).answer.contract_json()
    assert answer["status"] == "out_of_reach"
    assert answer["margin"]["reachable_without"] is True
    assert answer["margin"]["aims_pct"]["N"] > 24.05
    strong = wish(margin=MARGIN, targets=[{"nutrient": "N", "min": 31}])
    answer = formulate(strong, catalogue=None).answer.contract_json()
    assert answer["margin"]["reachable_without"] is False
    assert "N at least 31" in answer["out_of_reach"]["conflict"]


def test_alternatives_at_the_aims_can_be_asked_for_as_they_stand() -> None:
    """Pure UAN holds 32 % N: 31.9 % can be had, but not with its margin."""
    body = wish(
        margin=MARGIN, targets=[{"nutrient": "N", "min": 31.9}], slow_release_pct=None,
        stock_limits=None,
    )  # fmt: skip
    answer = formulate(body, catalogue=None).answer.contract_json()
    assert answer["status"] == "out_of_reach"
    assert answer["margin"]["reachable_without"] is True
    for alternative in answer["out_of_reach"]["alternatives"]:
        again = alternative["request"] | {"stocks": body["stocks"]}
        found = formulate(again, catalogue=None).answer.contract_json()
        assert found["analysis"] == pytest.approx(alternative["analysis"], abs=1e-3)


@pytest.mark.parametrize(
    ("margin", "path"),
    [
        ({}, "margin.chance"),
        ({"chance": 0}, "margin.chance"),
        ({"chance": 0.6}, "margin.chance"),
        ({"chance": "1 %"}, "margin.chance"),
        (MARGIN | {"usual_assay": {"strength_rsd_pct": -1}}, "margin.usual_assay.strength_rsd_pct"),
        (
            MARGIN | {"assay": {"TRZ": {"content_rsd_pct": {"Xx": 1}}}},
            "margin.assay.TRZ.content_rsd_pct.Xx",
        ),
        (MARGIN | {"scale": {"absolute_lb": -1}}, "margin.scale.absolute_lb"),
        (MARGIN | {"z": 2}, "margin.z"),
        ("much", "margin"),
    ],
)
def test_what_is_wrong_with_a_margin_is_named(margin: Any, path: str) -> None:
    with pytest.raises(BadInput) as refused:
        _answer(margin=margin)
    assert path in refused.value.fields
