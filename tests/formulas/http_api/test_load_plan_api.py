"""Load plans over HTTP and on the command line: the contract's own answer, as described."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from blendshop.accounts.models import User
from formulas.contracts.load_plans import plan_load
from tests.factories import make_simple_catalogue
from tests.formulas.contracts.test_load_plans import HEEL, load_wish
from tests.formulas.http_api.test_api import post, validator

LOAD_PLANS = "/api/v1/load-plans/"
TOO_NARROW = load_wish(targets=[{"nutrient": "N", "min": 24, "max": 24}])
TOO_COARSE = load_wish(
    {"scale_step_lb": 5}, targets=[{"nutrient": "Fe", "min": 0.05, "max": 0.06}],
    slow_release_pct=None,
)  # fmt: skip
TOO_STRONG = load_wish(targets=[{"nutrient": "N", "min": 40}])


@pytest.mark.parametrize(
    "body",
    [load_wish(), load_wish({"heel": HEEL, "capacity_gal": 270}), TOO_NARROW, TOO_COARSE],
    ids=["planned", "heel", "window", "scale"],
)
def test_a_load_is_answered_like_the_contract_and_as_described(
    rep: User, signed_in: Callable[[User], Client], schema: dict[str, Any], body: dict[str, Any]
) -> None:
    response = post(signed_in(rep), LOAD_PLANS, body)
    assert response.status_code == 200
    found = response.json()
    assert found == json.loads(json.dumps(plan_load(body, catalogue=None).contract_json()))
    validator(schema, "LoadPlanAnswerShape").validate(found)
    validator(schema, "LoadPlanRequestShapeRequest").validate(body)
    described = schema["components"]["schemas"]
    if found["load"] is not None:
        assert set(found["load"]) == set(described["PlannedLoadShape"]["properties"])
        assert set(found["load"]["label"]) == set(described["LabelDraftShape"]["properties"])


def test_the_published_examples_are_planned(
    rep: User, signed_in: Callable[[User], Client], schema: dict[str, Any]
) -> None:
    """They are sent to a catalogue that has what they ask for."""
    make_simple_catalogue()
    content = schema["paths"][LOAD_PLANS]["post"]["requestBody"]["content"]["application/json"]
    assert len(content["examples"]) == 2
    for example in content["examples"].values():
        response = post(signed_in(rep), LOAD_PLANS, example["value"])
        assert response.status_code == 200, response.json()
        assert response.json()["status"] == "solved"


def test_costs_are_only_for_those_who_see_costs(
    customer: User, rep: User, signed_in: Callable[[User], Client]
) -> None:
    assert post(Client(), LOAD_PLANS, load_wish()).status_code in {401, 403}
    assert post(signed_in(customer), LOAD_PLANS, load_wish()).status_code == 403


def test_a_wrong_load_is_400_with_a_message_at_each_field(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    body = load_wish({"fine_scale": {"step_lb": 0.1, "max_lb": "much"}}, most_stocks=0)
    response = post(signed_in(rep), LOAD_PLANS, body)
    assert response.status_code == 400
    assert set(response.json()["fields"]) == {"load.fine_scale.max_lb", "most_stocks"}


def test_with_its_own_stocks_no_catalogue_is_read(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(rep)
    with CaptureQueriesContext(connection) as seen:
        assert post(client, LOAD_PLANS, load_wish()).status_code == 200
    assert not [query for query in seen if "formulas_" in query["sql"]]


def test_the_command_answers_like_the_api(run: Callable[..., tuple[int, str, str]]) -> None:
    status, out, err = run("planload", load_wish(), "--json")
    assert (status, err) == (0, "")
    expected = plan_load(load_wish(), catalogue=None).contract_json()
    assert json.loads(out) == json.loads(json.dumps(expected))


def test_the_command_prints_what_is_weighed(run: Callable[..., tuple[int, str, str]]) -> None:
    body = load_wish({"volume_gal": 530, "scale_step_lb": 5,
                      "fine_scale": {"step_lb": 0.1, "max_lb": 600}})  # fmt: skip
    status, out, _ = run("planload", body)
    load = plan_load(body, catalogue=None).contract_json()["load"]
    assert status == 0
    for step in load["steps"]:
        digits = 1 if step["scale"] == "fine" else 0
        line = next(line for line in out.splitlines() if line.startswith(step["code"]))
        assert f"{step['weight_lb']:,.{digits}f}" in line
        assert f"{step['tolerance_lb']:,.{digits}f}" in line
    assert "Total Nitrogen (N) ................................. 24%" in out
    assert "A draft for review" in out


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (TOO_NARROW, "the narrowest window that can be made is"),
        (TOO_COARSE, "FES needs a finer scale"),
        (TOO_STRONG, "No blend holds these together: N at least 40"),
    ],
)
def test_out_of_reach_exits_1_and_says_what_is_in_the_way(
    run: Callable[..., tuple[int, str, str]], body: dict[str, Any], said: str
) -> None:
    status, out, err = run("planload", body)
    assert (status, err) == (1, "")
    assert said in out
    status, out, _ = run("planload", body, "--json")
    assert (status, json.loads(out)["load"]) == (1, None)


def test_a_bad_request_exits_2_with_its_fields_on_standard_error(
    run: Callable[..., tuple[int, str, str]],
) -> None:
    status, out, err = run("planload", load_wish({"volume_gal": 0}, nonsense=1), "--json")
    assert (status, out) == (2, "")
    assert "load.volume_gal: Must be a number above 0." in err
    assert "nonsense: Is not a known key." in err
