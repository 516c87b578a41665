"""The load-plan contract: what it answers, for every weight on target, and what it refuses."""

import json
import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

import pytest
from django.utils import timezone

from blendshop.errors import BadInput
from formulas.contracts.formulation import formulate
from formulas.contracts.load_plan_label import _surely
from formulas.contracts.load_plans import plan_load
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from tests.formulas.contracts.test_margin_contract import MARGIN
from tests.formulas.sample_wishes import STOCKS, wish

HEEL = {"volume_gal": 15, "density_lb_per_gal": 10.6, "analysis": {"N.urea": 12}}


def load_wish(load: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """24 % N, half slow, some potash in a tote on a one-pound scale."""
    body: dict[str, Any] = {
        "stocks": STOCKS,
        "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 2, "max": 3.5}],
        "slow_release_pct": {"min": 50},
        "load": {"volume_gal": 265, "scale_step_lb": 1} | (load or {}),
    }
    return {key: value for key, value in (body | changes).items() if value is not None}


def planned(body: dict[str, Any]) -> dict[str, Any]:
    return json.loads(json.dumps(plan_load(body, catalogue=None).contract_json()))


def on_target(load: dict[str, Any], count: int = 200) -> Iterator[dict[str, float]]:
    rng = random.Random(7)  # noqa: S311 - draws of a test
    for number in range(count):
        yield {
            step["code"]: step["weight_lb"]
            + step["tolerance_lb"] * (rng.choice([-1, 1]) if number % 2 else rng.uniform(-1, 1))
            for step in load["steps"]
        }


def tank(body: dict[str, Any], lb: dict[str, float]) -> tuple[Callable[..., float], float]:
    """Contents and gallons of these weights on what stands in the tank."""
    stocks = {stock["code"]: stock for stock in body["stocks"]}
    parts = [(weight, stocks[code].get("analysis", {})) for code, weight in lb.items()]
    gallons = sum(weight / stocks[code]["density_lb_per_gal"] for code, weight in lb.items())
    heel = body["load"].get("heel")
    if heel:
        parts.append((heel["volume_gal"] * heel["density_lb_per_gal"], heel["analysis"]))
        gallons += heel["volume_gal"]
    mass = sum(weight for weight, _ in parts)
    return (lambda of: sum(weight * of(analysis) for weight, analysis in parts) / mass), gallons


@pytest.mark.parametrize(
    "load",
    [
        {},
        {"heel": HEEL},
        {"heel": {**HEEL, "analysis": {}}},
        {"volume_gal": 530, "scale_step_lb": 5, "fine_scale": {"step_lb": 0.1, "max_lb": 200}},
        {"tolerance_pct": 0.2},
        {"volume_gal": 1000, "capacity_gal": 1000},
    ],
)
def test_every_weight_on_target_keeps_wishes_lines_and_volume(load: dict[str, Any]) -> None:
    body = load_wish(
        load,
        targets=[
            {"nutrient": "N", "min": 20, "max": 21},
            {"nutrient": "K2O", "min": 2, "max": 3.5},
        ],
    )
    answer = planned(body)
    found = answer["load"]
    assert answer["status"] == "solved"
    for lb in on_target(found):
        content, gallons = tank(body, lb)
        n = content(lambda a: content_pct(a, "N"))
        assert 20 - 1e-9 <= n <= 21 + 1e-9
        assert 2 - 1e-9 <= content(lambda a: a.get("K2O", 0.0)) <= 3.5 + 1e-9
        assert content(slow_n_pct) >= 0.5 * n - 1e-9
        assert gallons >= body["load"]["volume_gal"] - 1
        for line in found["label"]["guarantees"]:
            if line["key"] == "N" or line["parent"] != "N":
                assert content(lambda a, k=line["key"]: content_pct(a, k)) >= line["pct"] - 1e-9
            else:
                assert content(lambda a, k=line["key"]: a.get(k, 0.0)) >= line["pct"] - 1e-9


def test_the_label_prints_the_wished_total_in_forms_that_add_up() -> None:
    label = planned(load_wish())["load"]["label"]
    lines = {line["key"]: Fraction(str(line["pct"])) for line in label["guarantees"]}
    forms = [pct for key, pct in lines.items() if key.startswith("N.")]
    assert label["grade"] == "24-0-2"
    assert lines["N"] == 24 == sum(forms)
    assert lines["N.slow"] >= 12
    assert all((pct * 100).denominator == 1 for pct in forms)
    assert "urea-triazone solution" not in label["derived_from"]
    assert set(label["derived_from"]) == {"UAN 32", "TRZ", "KAC"}


def test_the_answer_is_the_formulations_with_the_planned_recipe() -> None:
    answer = planned(load_wish())
    body = {key: value for key, value in load_wish().items() if key != "load"}
    plain = formulate(body, catalogue=None)
    expected = plain.answer.contract_json()
    assert set(answer) == set(expected) | {"load", "findings"}
    assert answer["sensitivity"] == json.loads(json.dumps(expected["sensitivity"]))
    load, recipe = answer["load"], {line["code"]: line for line in answer["recipe"]}
    for step in load["steps"]:
        assert recipe[step["code"]]["lb"] == pytest.approx(step["weight_lb"], abs=1e-5)
    assert sum(line["pct"] for line in answer["recipe"]) == pytest.approx(100, abs=1e-5)
    assert answer["totals"]["cost"] == load["cost"]
    assert answer["totals"]["mass_lb"] == load["net_weight_lb"]
    assert answer["findings"] == []


def test_every_tolerance_is_whole_divisions_of_its_scale() -> None:
    body = load_wish(
        {"volume_gal": 530, "scale_step_lb": 5, "fine_scale": {"step_lb": 0.1, "max_lb": 600}}
    )
    steps = planned(body)["load"]["steps"]
    division = {"main": Fraction(5), "fine": Fraction(1, 10)}
    assert {step["scale"] for step in steps} == {"main", "fine"}
    for step in steps:
        for key in ("weight_lb", "tolerance_lb"):
            found = Fraction(str(step[key])) / division[step["scale"]]
            assert found.denominator == 1
            assert found >= 1
        assert step["scale"] == "main" or step["weight_lb"] <= 600


def test_a_heel_counts_once_and_costs_nothing() -> None:
    body = load_wish({"heel": HEEL}, targets=[{"nutrient": "N", "min": 20}])
    load = planned(body)["load"]
    lb = {step["code"]: step["weight_lb"] for step in load["steps"]}
    content, gallons = tank(body, lb)
    assert load["net_weight_lb"] == pytest.approx(sum(lb.values()) + 159)
    assert load["volume_gal"] == pytest.approx(gallons, abs=1e-5)
    assert load["density_lb_per_gal"] == pytest.approx(load["net_weight_lb"] / gallons, abs=1e-5)
    assert load["analysis"]["N"] == pytest.approx(content(lambda a: content_pct(a, "N")), abs=1e-5)
    cost = {stock["code"]: float(stock["cost_per_lb"]) for stock in STOCKS}
    charged = sum(cost[code] * weight for code, weight in lb.items())
    assert float(load["cost"]) == pytest.approx(charged, abs=0.006)
    assert load["label"]["net"]["lb"] == load["net_weight_lb"]


def test_an_empty_analysis_is_a_heel_of_water() -> None:
    """Without a density it has that of water; 8.337 lb/gal at 60 F by IAPWS-95."""
    load = planned(load_wish({"heel": {"volume_gal": 10, "analysis": {}}}))["load"]
    charged = sum(step["weight_lb"] for step in load["steps"])
    assert load["net_weight_lb"] == pytest.approx(charged + 83.37)
    assert planned(load_wish({"heel": {"volume_gal": 0}}))["load"] == planned(load_wish())["load"]


def test_a_heel_may_carry_a_wish_that_the_stocks_alone_cannot() -> None:
    """No stock brings zinc: the heel's is enough for a little of it."""
    heel = {"volume_gal": 60, "density_lb_per_gal": 10.0, "analysis": {"Zn": 0.5}}
    body = load_wish({"heel": heel}, targets=[{"nutrient": "Zn", "min": 0.05}])
    answer = planned(body | {"slow_release_pct": None})
    assert answer["status"] == "solved"
    assert answer["load"]["analysis"]["Zn"] > 0.05
    assert "Zn" not in answer["analysis"]


def test_a_load_replaces_the_fill() -> None:
    assert planned(load_wish(fill={"mass_lb": 10})) == planned(load_wish())


def test_a_complete_recipe_is_planned_as_it_is() -> None:
    recipe = [{"code": "UAN", "pct": 60}, {"code": "WATER", "pct": 40}]
    body = load_wish(targets=None, slow_release_pct=None, recipe=recipe)
    answer = planned(body)
    assert {line["code"]: line["pct"] for line in answer["recipe"]} == pytest.approx(
        {"UAN": 60, "WATER": 40}, abs=0.03
    )


def test_a_window_without_room_is_answered_by_the_one_that_has() -> None:
    targets = [{"nutrient": "N", "min": 24, "max": 24}, {"nutrient": "K2O", "min": 2}]
    answer = planned(load_wish(targets=targets))
    assert (answer["status"], answer["load"]) == ("out_of_reach", None)
    assert answer["out_of_reach"]["conflict_fields"] == ["targets.0.min", "targets.0.max"]
    found = {finding["field"]: finding for finding in answer["findings"]}
    wider = found["targets.0.max"]
    assert wider["code"] == "window_too_narrow"
    assert f"24 to {wider['nearest']:g}." in wider["message"]
    targets[0]["max"] = wider["nearest"]
    assert planned(load_wish(targets=targets))["status"] == "solved"


def test_a_scale_too_coarse_is_named_with_the_one_that_would_do() -> None:
    targets = [{"nutrient": "N", "min": 12}, {"nutrient": "Fe", "min": 0.05, "max": 0.06}]
    body = load_wish({"scale_step_lb": 5}, targets=targets, slow_release_pct=None)
    answer = planned(body)
    assert answer["status"] == "out_of_reach"
    steps = [each for each in answer["findings"] if each["code"] == "scale_too_coarse"]
    (step,) = [each for each in steps if each["stock"] == "FES"]
    assert (step["division_lb"], step["severity"]) == (5.0, "stop")
    body["load"]["fine_scale"] = {"step_lb": step["finer_lb"], "max_lb": 100}
    assert planned(body)["status"] == "solved"


def test_a_wish_out_of_reach_is_answered_as_by_the_formulation() -> None:
    body = load_wish(targets=[{"nutrient": "N", "min": 40}])
    answer = planned(body)
    assert answer["load"] is None
    assert answer["out_of_reach"]["alternatives"]
    assert "N at least 40" in answer["findings"][0]["message"]


@pytest.mark.parametrize(
    ("load", "fields"),
    [
        (None, {"load"}),
        ([], {"load"}),
        ({}, {"load.volume_gal"}),
        ({"volume_gal": 0}, {"load.volume_gal"}),
        ({"volume_gal": "265"}, {"load.volume_gal"}),
        ({"volume_gal": 265, "scale_step_lb": 0}, {"load.scale_step_lb"}),
        ({"volume_gal": 265, "colour": 1}, {"load.colour"}),
        (
            {"volume_gal": 265, "fine_scale": {}},
            {"load.fine_scale.step_lb", "load.fine_scale.max_lb"},
        ),
        (
            {"volume_gal": 265, "fine_scale": {"step_lb": 0.1, "max_lb": 0, "x": 1}},
            {"load.fine_scale.max_lb", "load.fine_scale.x"},
        ),
        ({"volume_gal": 265, "tolerance_pct": -1}, {"load.tolerance_pct"}),
        ({"volume_gal": 265, "tolerance_pct": 10.5}, {"load.tolerance_pct"}),
        ({"volume_gal": 265, "capacity_gal": 0}, {"load.capacity_gal"}),
        ({"volume_gal": 265, "heel": {}}, {"load.heel.volume_gal"}),
        (
            {"volume_gal": 265, "heel": {"volume_gal": 300, "density_lb_per_gal": 10, "y": 1}},
            {"load.heel.volume_gal", "load.heel.y"},
        ),
        (
            {"volume_gal": 265, "heel": {"volume_gal": 15, "analysis": {"N.urea": 12}}},
            {"load.heel.density_lb_per_gal"},
        ),
        (
            {"volume_gal": 265, "heel": {**HEEL, "density_lb_per_gal": 0}},
            {"load.heel.density_lb_per_gal"},
        ),
        ({"volume_gal": 265, "heel": {**HEEL, "analysis": {"N": 12}}}, {"load.heel.analysis.N"}),
        (
            {"volume_gal": 265, "heel": {**HEEL, "analysis": {"N": 12, "N.urea": 10}}},
            {"load.heel.analysis.N"},
        ),
        ({"volume_gal": 265, "heel": {**HEEL, "analysis": {"Fe": 101}}}, {"load.heel.analysis.Fe"}),
    ],
)
def test_a_wrong_load_is_refused_by_field(load: Any, fields: set[str]) -> None:
    body = {key: value for key, value in load_wish().items() if key != "load"}
    if load is not None:
        body["load"] = load
    with pytest.raises(BadInput) as refused:
        plan_load(body, catalogue=None)
    assert set(refused.value.fields) == fields


def test_what_is_wrong_with_load_and_wish_is_named_at_once() -> None:
    body = load_wish({"volume_gal": -1}, targets=[{"nutrient": "Xy", "min": 1}], nonsense=1)
    with pytest.raises(BadInput) as refused:
        plan_load(body, catalogue=None)
    assert set(refused.value.fields) == {"load.volume_gal", "targets.0.nutrient", "nonsense"}


@pytest.mark.parametrize("body", [None, [], "x", 3])
def test_what_is_no_object_is_refused(body: Any) -> None:
    with pytest.raises(BadInput) as refused:
        plan_load(body, catalogue=None)
    assert set(refused.value.fields) == {"body"}


def test_on_the_catalogue_the_label_names_the_stocks_sources(
    catalogue: dict[str, BaseStock],
) -> None:
    BaseStock.objects.filter(code="TRZ").update(derived_from="urea-triazone, urea")
    body = load_wish(stocks=None)
    answer = plan_load(body, catalogue=load_catalogue(timezone.localdate())).contract_json()
    assert answer["load"]["label"]["derived_from"][:2] == ["urea-triazone", "urea"]
    assert answer["load"]["label"]["slow_release_statement"].endswith("from urea-triazone")


@pytest.mark.parametrize(
    ("pct", "given"),
    [
        (23.0, 23.0),
        (22.9999999999, 23.0),
        (8.339999, 8.339996),
        (8.3399979, 8.339997),
        (8.339998, 8.339995),
        (8.339997, 8.339997),
        (8.340001, 8.340001),
        (0.0, 0.0),
    ],
)
def test_no_digit_is_read_up_from_what_is_sure(pct: float, given: float) -> None:
    """A label takes two millionths more as there; what is that near is given less."""
    assert _surely(pct) == pytest.approx(given, abs=1e-12)


def test_a_wish_with_a_margin_is_planned_at_its_aims() -> None:
    answer = planned(load_wish(margin=MARGIN))
    assert answer["margin"]["guarantees"]
    assert answer["load"]["least_pct"]["N"] > planned(load_wish())["load"]["least_pct"]["N"]


def test_the_wish_of_the_formulation_tests_can_be_loaded() -> None:
    body = wish(fill=None) | {"load": {"volume_gal": 1000, "scale_step_lb": 2}}
    assert planned(body)["status"] == "solved"
