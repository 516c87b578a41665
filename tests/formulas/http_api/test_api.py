"""The API: roles, tokens, errors by field, answers true to the published description."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from jsonschema import Draft4Validator
from rest_framework.authtoken.models import Token

from blendshop.accounts.models import User
from formulas.contracts.formulation import formulate, spray_sheet
from formulas.contracts.spoken_formulation import formulate_spoken
from tests.factories import BaseStockFactory, make_simple_catalogue
from tests.formulas.contracts.test_spray_sheet_contract import REQUEST as SPRAY
from tests.formulas.sample_wishes import out_of_reach, wish

FORMULATIONS, SPRAY_SHEETS = "/api/v1/formulations/", "/api/v1/spray-sheets/"


def post(client: Client, path: str, body: Any, **headers: str) -> Any:
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(path, text, content_type="application/json", headers=headers)


def validator(schema: dict[str, Any], component: str) -> Draft4Validator:
    """OpenAPI 3.0 writes ``nullable``; JSON schema wants a type of two."""

    def plain(node: Any) -> Any:
        if isinstance(node, list):
            return [plain(item) for item in node]
        if not isinstance(node, dict):
            return node
        found = {key: plain(value) for key, value in node.items() if key != "nullable"}
        return {"anyOf": [found, {"type": "null"}]} if node.get("nullable") is True else found

    components = {"components": plain(schema["components"])}
    return Draft4Validator({"$ref": f"#/components/schemas/{component}", **components})


@pytest.mark.parametrize("body", [wish(), out_of_reach()], ids=["solved", "out of reach"])
def test_a_formulation_answers_like_the_command_and_as_described(
    rep: User, signed_in: Callable[[User], Client], schema: dict[str, Any], body: dict[str, Any]
) -> None:
    response = post(signed_in(rep), FORMULATIONS, body)
    assert response.status_code == 200
    assert response.json() == json.loads(
        json.dumps(formulate(body, catalogue=None).answer.contract_json())
    )
    validator(schema, "FormulationAnswerShape").validate(response.json())
    validator(schema, "FormulationRequestShapeRequest").validate(body)


def test_a_spray_sheet_answers_like_the_command_and_as_described(
    customer: User, signed_in: Callable[[User], Client], schema: dict[str, Any]
) -> None:
    response = post(signed_in(customer), SPRAY_SHEETS, SPRAY)
    assert response.status_code == 200
    assert response.json() == json.loads(json.dumps(spray_sheet(SPRAY).contract_json()))
    validator(schema, "SpraySheetAnswerShape").validate(response.json())


def test_the_description_lists_every_key_that_is_answered(schema: dict[str, Any]) -> None:
    shapes = schema["components"]["schemas"]
    margin = {"chance": 0.01, "usual_assay": {"strength_rsd_pct": 1.0}}
    found = formulate(out_of_reach() | {"margin": margin}, catalogue=None).answer.contract_json()
    held = formulate(wish(margin=margin), catalogue=None).answer.contract_json()["margin"]
    assert set(found["margin"]) | set(held) == set(shapes["MarginAnswerShape"]["properties"])
    guarantee = held["guarantees"][0]
    assert set(guarantee) == set(shapes["GuaranteeMarginShape"]["properties"])
    told_only_of_a_line = {"understood", "understood_beside"}
    told_only_if_solved = {"wish_costs"}
    steps = formulate_spoken(wish(), catalogue=None).contract_json()["wish_costs"]
    assert set(steps[0]) == set(shapes["WishStepShape"]["properties"])
    answer = set(shapes["FormulationAnswerShape"]["properties"])
    assert set(found) == answer - told_only_of_a_line - told_only_if_solved
    told_only_if_too_much = {"not_explained"}
    reasons = set(shapes["OutOfReachShape"]["properties"])
    assert set(found["out_of_reach"]) == reasons - told_only_if_too_much
    alternative = found["out_of_reach"]["alternatives"][0]
    assert set(alternative) == set(shapes["AlternativeShape"]["properties"])
    assert set(alternative["totals"]) == set(shapes["TotalsShape"]["properties"])
    assert set(spray_sheet(SPRAY).contract_json()) == set(
        shapes["SpraySheetAnswerShape"]["properties"]
    )


@pytest.mark.parametrize(
    ("person", "formulations", "spray_sheets"),
    [("rep", 200, 200), ("formulator", 200, 200), ("office", 200, 200),
     ("customer", 403, 200), ("plant_worker", 403, 200)],
)  # fmt: skip
def test_costs_are_only_for_those_who_see_costs(
    request: pytest.FixtureRequest,
    signed_in: Callable[[User], Client],
    person: str,
    formulations: int,
    spray_sheets: int,
) -> None:
    client = signed_in(request.getfixturevalue(person))
    assert post(client, FORMULATIONS, wish()).status_code == formulations
    assert post(client, SPRAY_SHEETS, SPRAY).status_code == spray_sheets


def test_a_visitor_is_asked_for_credentials(db: None) -> None:
    for path in (FORMULATIONS, SPRAY_SHEETS):
        response = post(Client(), path, wish())
        assert response.status_code == 401
        assert set(response.json()) == {"code", "detail", "fields", "request"}


def test_a_token_opens_the_door_for_scripts(rep: User) -> None:
    token = Token.objects.create(user=rep)
    good = post(Client(), FORMULATIONS, wish(), authorization=f"Token {token.key}")
    assert good.status_code == 200
    bad = post(Client(), FORMULATIONS, wish(), authorization="Token nonsense")
    assert bad.status_code == 401


def test_a_session_without_csrf_token_is_refused(rep: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(rep)
    assert post(client, FORMULATIONS, wish()).status_code == 403


def test_bad_input_is_400_with_a_message_at_each_field(
    rep: User, signed_in: Callable[[User], Client], schema: dict[str, Any]
) -> None:
    response = post(signed_in(rep), FORMULATIONS, wish(most_stocks=True, fill={"volume_gal": 0}))
    assert response.status_code == 400
    validator(schema, "ErrorShape").validate(response.json())
    assert response.json()["code"] == "bad_input"
    assert set(response.json()["fields"]) == {"most_stocks", "fill.volume_gal"}


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"fill": NaN}', '{"a": 1, "a": 2}', "[" * 100_000, "9" * 5000, b"\xff"],
    ids=["empty", "cut", "list", "NaN", "twice", "deep", "endless", "encoding"],
)  # fmt: skip
def test_hostile_bodies_are_400_in_the_same_shape(
    rep: User, signed_in: Callable[[User], Client], text: str | bytes
) -> None:
    response = post(signed_in(rep), FORMULATIONS, text)
    assert response.status_code == 400
    assert set(response.json()) == {"code", "detail", "fields", "request"}


def test_other_methods_and_types_are_refused(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(rep)
    assert client.get(FORMULATIONS).status_code == 405
    assert client.post(FORMULATIONS, {"fill": 1}).status_code == 415


def test_with_its_own_stocks_no_catalogue_is_read(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(rep)
    with CaptureQueriesContext(connection) as seen:
        assert post(client, FORMULATIONS, wish()).status_code == 200
    assert not [query for query in seen if "formulas_" in query["sql"]]


def test_on_the_catalogue_thirty_stocks_take_as_many_queries_as_five(
    rep: User, signed_in: Callable[[User], Client]
) -> None:
    make_simple_catalogue()
    client, body = signed_in(rep), {"targets": [{"nutrient": "N", "min": 20}]}
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as seen:
            response = post(client, FORMULATIONS, body)
        assert response.json()["status"] == "solved"
        counts.append(len(seen))
        for _more in range(25):
            BaseStockFactory(analysis={"K2O": 10.0})
    assert counts[0] == counts[1]


def test_a_line_is_answered_as_described_and_refused_by_its_words(
    rep: User,
    signed_in: Callable[[User], Client],
    schema: dict[str, Any],
    db: None,
) -> None:
    make_simple_catalogue()
    client = signed_in(rep)
    body = {"line": "24-0-2 half slow, 2 totes, 0.7 lb N"}
    validator(schema, "FormulationRequestShapeRequest").validate(body)
    response = post(client, FORMULATIONS, body)
    assert response.status_code == 200
    validator(schema, "FormulationAnswerShape").validate(response.json())
    assert response.json()["understood"]["fill"] == {"volume_gal": 530.0}
    refused = post(client, FORMULATIONS, {"line": "24-0-2 and magic 7"})
    assert refused.status_code == 400
    assert "magic, 7" in refused.json()["fields"]["line"]
