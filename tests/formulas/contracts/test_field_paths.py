"""Beside each wish the contract says where in the request its figure stands."""

from typing import Any

import pytest

from formulas.contracts.formulation import formulate
from tests.formulas.sample_wishes import STOCKS, wish


def figure_at(body: Any, path: str) -> Any:
    for step in path.split("."):
        body = body[int(step)] if step.isdigit() else body[step]
    return body


def answer(body: dict[str, Any]) -> dict[str, Any]:
    return formulate(body, catalogue=None).answer.contract_json()


LIMITED = wish(
    targets=[{"nutrient": "K2O", "min": 9, "max": 9.5}, {"nutrient": "N", "min": 30}],
    stock_limits=[{"code": "UAN", "max_pct": 20}, {"code": "KAC", "min_pct": 5, "max_pct": 40}],
    recipe=[{"code": "TRZ", "pct": 30}],
    most_stocks=4,
)


def test_every_path_leads_to_the_figure_that_is_spoken_of() -> None:
    found = answer(LIMITED)["out_of_reach"]
    assert len(found["reach"]) > 5
    for reach in found["reach"]:
        assert figure_at(LIMITED, reach["field"]) == reach["asked"], reach
    paths = {reach["field"] for reach in found["reach"]}
    assert {
        "targets.0.min",
        "targets.0.max",
        "targets.1.min",
        "stock_limits.1.min_pct",
        "recipe.0.pct",
        "most_stocks",
    } <= paths


def test_conflicts_are_named_beside_their_words_in_the_same_order() -> None:
    found = answer(LIMITED)["out_of_reach"]
    assert len(found["conflict"]) == len(found["conflict_fields"]) > 0
    words = {reach["wish"]: reach["field"] for reach in found["reach"]}
    for said, field in zip(found["conflict"], found["conflict_fields"], strict=True):
        if said in words:
            assert words[said] == field


@pytest.mark.parametrize("brought", [True, False], ids=["in the request", "shipped"])
def test_a_rule_has_a_place_only_where_the_request_brings_it(brought: bool) -> None:
    body = wish(exclude=[], targets=[{"nutrient": "N", "min": 20}, {"nutrient": "Fe", "min": 0.1}])
    rule = {"trait_a": "triazone", "trait_b": "unchelated_iron", "effect": "blocks"}
    found = answer({**body, "rules": [rule]} if brought else body)["out_of_reach"]
    by_words = dict(zip(found["conflict"], found["conflict_fields"], strict=True))
    (field,) = (path for said, path in by_words.items() if "must not meet" in said)
    assert field == ("rules.0" if brought else None)


def test_a_stocks_own_limit_has_its_place_in_the_stock_that_was_sent() -> None:
    few = [{**STOCKS[0], "max_pct": 10}, STOCKS[4]]
    body = {"stocks": few, "targets": [{"nutrient": "N", "min": 28}]}
    found = answer(body)["out_of_reach"]
    assert found["conflict_fields"] == ["targets.0.min", "stocks.0.max_pct"]
    assert figure_at(body, "stocks.0.max_pct") == 10


def test_a_stock_left_out_has_its_place_in_the_list() -> None:
    body = wish(targets=[{"nutrient": "N", "min": 20}], exclude=["FES", "TRZ"])
    fields = answer(body)["out_of_reach"]["conflict_fields"]
    assert "exclude.1" in fields


def test_an_aim_beyond_its_maximum_leads_to_the_minimum_it_was_raised_from() -> None:
    margin = {"chance": 0.01, "usual_assay": {"strength_rsd_pct": 1.0}}
    body = wish(margin=margin, targets=[{"nutrient": "N", "min": 24, "max": 24.05}])
    found = answer(body)["out_of_reach"]
    assert found["conflict_fields"] == ["targets.0.min"]
    assert "to keep its margin" in found["conflict"][0]
