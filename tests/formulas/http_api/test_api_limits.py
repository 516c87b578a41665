"""Whatever is sent, the answer is short, soon and never a failure of the server."""

import json
from typing import Any

import pytest
from django.test import Client

from blendshop.accounts.models import User
from formulas.contracts import formulation_request as limits
from formulas.contracts.strict_json import MOST_REFUSALS
from formulas.engine.work.effort import allowed
from tests.formulas.sample_wishes import wish

FORMULATIONS, LOAD_PLANS = "/api/v1/formulations/", "/api/v1/load-plans/"


@pytest.fixture
def api(client: Client, rep: User) -> Client:
    client.force_login(rep)
    return client


def post(client: Client, body: Any, path: str = FORMULATIONS) -> Any:
    text = body if isinstance(body, str | bytes) else json.dumps(body)
    return client.post(path, text, content_type="application/json")


def test_lists_are_as_long_as_the_job_needs(api: Client) -> None:
    stock = {"code": "A", "density_lb_per_gal": 9, "cost_per_lb": "1"}
    rule = {"trait_a": "a", "trait_b": "b", "effect": "blocks"}
    refused = post(
        api,
        {
            "stocks": [stock] * (limits.MOST_STOCKS + 1),
            "rules": [rule] * (limits.MOST_RULES + 1),
            "targets": [{"nutrient": "N", "min": 1}] * (limits.MOST_TARGETS + 1),
        },
    )
    assert refused.status_code == 400
    assert refused.json()["fields"]["stocks"] == "Must hold at most 60 entries, not 61."
    assert {"rules", "targets"} <= refused.json()["fields"].keys()


def test_rules_of_a_request_keep_only_so_many_pairs_apart(api: Client) -> None:
    stocks = [
        {"code": f"S{i}", "density_lb_per_gal": 9, "cost_per_lb": "1", "traits": ["a", "b"]}
        for i in range(limits.MOST_STOCKS)
    ]
    rule = {"trait_a": "a", "trait_b": "b", "effect": "blocks"}
    refused = post(api, {"stocks": stocks, "rules": [rule], "targets": []})
    assert refused.status_code == 400
    assert "3,600 pairs" in refused.json()["fields"]["rules"]


@pytest.mark.parametrize("path", [FORMULATIONS, LOAD_PLANS])
def test_what_takes_too_much_work_is_refused_with_what_to_reduce(api: Client, path: str) -> None:
    body = wish() | ({"load": {"volume_gal": 265}} if path == LOAD_PLANS else {})
    body.pop("fill", None)
    with allowed(1):
        refused = post(api, body, path)
    assert refused.status_code == 422
    assert refused.json()["code"] == "too_large"
    assert "fewer stocks" in refused.json()["detail"]


def test_the_last_guard_is_the_clock(api: Client, settings) -> None:
    settings.REQUEST_SECONDS = 0
    refused = post(api, wish())
    assert refused.status_code == 422
    assert "within 0 seconds" in refused.json()["detail"]


def test_many_unknown_keys_get_a_short_answer(api: Client) -> None:
    refused = post(api, {f"{i}" + "x" * 20: 1 for i in range(10_000)})
    assert refused.status_code == 400
    assert len(refused.json()["fields"]) <= MOST_REFUSALS + 1
    assert len(refused.content) < 8_000
    long = post(api, {"k" * 200_000: 1})
    assert len(long.content) < 1_000


@pytest.mark.parametrize(
    "text",
    [
        '{"targets": [{"nutrient": "\\ud800", "min": 1}]}',
        b'{"targets": [{"nutrient": "\xed\xa0\x80", "min": 1}]}',
        '{"a\\udfff": 1}',
        "[" * 100_000,
        '{"a":' * 100_000,
        '{"a": 1' + "0" * 5_000 + "}",
        '{"targets": [{"nutrient": "N\\u0000", "min": 1}]}',
        b"\xff\xfe\xff",
    ],
    ids=["escape", "bytes", "key", "lists", "objects", "number", "nul", "encoding"],
)
def test_what_is_no_text_or_no_end_of_it_is_a_bad_request(api: Client, text: str | bytes) -> None:
    assert post(api, text).status_code == 400


def test_whole_characters_beyond_the_first_65536_are_text(api: Client) -> None:
    body = json.dumps(wish() | {"targets": [{"nutrient": "\U0001f600", "min": 1}]})
    assert "\\ud83d\\ude00" in body
    refused = post(api, body)
    assert refused.status_code == 400
    assert "targets.0.nutrient" in refused.json()["fields"]


@pytest.mark.parametrize(
    ("load", "path"),
    [
        ({"volume_gal": 1e-9, "scale_step_lb": 1e3}, "load.volume_gal"),
        ({"volume_gal": 265, "scale_step_lb": 1e9}, "load.scale_step_lb"),
    ],
)
def test_a_load_beyond_any_scale_is_a_bad_request(
    api: Client, load: dict[str, float], path: str
) -> None:
    body = {key: value for key, value in wish().items() if key != "fill"}
    refused = post(api, body | {"load": load}, LOAD_PLANS)
    assert refused.status_code == 400
    assert refused.json()["fields"][path].startswith("Must be from")
