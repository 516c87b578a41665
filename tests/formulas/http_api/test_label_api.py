"""Label drafts and assay checks: the contracts over HTTP and on the command line."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from jsonschema import Draft4Validator

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from formulas.contracts import assay_checks, label_drafts
from formulas.contracts.assay_checks import allowance_pct
from tests.engine.label.printed_label import parse_guarantees

LABEL_DRAFTS, ASSAY_CHECKS = "/api/v1/label-drafts/", "/api/v1/assay-checks/"
DRAFT: dict[str, Any] = {
    "analysis": {"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.07, "Zn": 0.03},
    "kind": "specialty",
    "sources": [{"name": "urea-triazone solution", "supplies": {"N": 21.0}}],
    "density_lb_per_gal": 10.7,
    "volume_gal": 265,
}
ASSAY: dict[str, Any] = {
    "guarantees": {"N": 28, "K2O": 0, "Fe": 0.1},
    "found": {"N": 27.2, "Fe": 0.09},
}


def label_draft(body: Any) -> dict[str, Any]:
    return label_drafts.label_draft(body).contract_json()


def assay_check(body: Any) -> dict[str, Any]:
    return assay_checks.assay_check(body).contract_json()


def post(client: Client, path: str, body: Any) -> Any:
    text = body if isinstance(body, str) else json.dumps(body)
    return client.post(path, text, content_type="application/json")


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


def refused(work: Callable[[Any], Any], body: Any) -> dict[str, str]:
    with pytest.raises(BadInput) as refusal:
        work(body)
    return refusal.value.fields


def test_the_label_draft_contract_word_for_word() -> None:
    answer = label_draft(DRAFT)
    assert answer["grade"] == "25.2-0-3"
    assert answer["guarantees"] == [
        {"key": key, "label": label, "pct": pct, "printed": printed, "parent": parent}
        for key, label, pct, printed, parent in (
            ("N", "Total Nitrogen (N)", 25.2, "25.2", None),
            ("N.urea", "Urea Nitrogen", 12.3, "12.3", "N"),
            ("N.slow", "Slowly Available Water Soluble Nitrogen", 12.9, "12.9", "N"),
            ("K2O", "Soluble Potash (K2O)", 3.0, "3", None),
        )
    ]
    statement = "12.9% slowly available nitrogen from urea-triazone solution"
    assert answer["slow_release_statement"] == statement
    # 12.9 of the guaranteed 25.2.
    assert answer["slow_release_pct"] == 51.19
    assert answer["derived_from"] == ["urea-triazone solution"]
    assert answer["other_ingredients"] == []
    (zinc,) = answer["not_claimed"]
    assert (zinc["key"], zinc["pct"]) == ("Zn", 0.03)
    assert "below the 0.05 %" in zinc["rule"]
    # NIST SP 811: 1 lb = 0.45359237 kg, 1 gal = 3.785411784 L.
    assert answer["net"] == {
        "lb": 2835.5,
        "kg": round(2835.5 * 0.45359237, 6),
        "gal": 265.0,
        "L": round(265 * 3.785411784, 6),
    }
    # 1,286.161 kg and 1,003.134 L: a package never holds less than it says.
    assert answer["net_printed"] == {
        "lb": "2,835.5", "kg": "1,286.1", "gal": "265.0", "L": "1,003.1",
    }  # fmt: skip
    assert "Net weight: 2,835.5 lb (1,286.1 kg)" in answer["text"]
    assert "review" in answer["caution"]


def test_the_text_reads_back_as_the_guarantees() -> None:
    answer = label_draft(DRAFT | {"analysis": {**DRAFT["analysis"], "Fe": 0.2}})
    read = [(g.key, g.label, float(g.pct), g.parent) for g in parse_guarantees(answer["text"])]
    assert read == [(g["key"], g["label"], g["pct"], g["parent"]) for g in answer["guarantees"]]


def test_a_wished_figure_is_printed_and_chlorine_only_where_it_is_wished() -> None:
    rich = DRAFT | {"analysis": {**DRAFT["analysis"], "Cl": 1.234, "Fe": 0.1}}
    printed = {g["key"]: g["printed"] for g in label_draft(rich)["guarantees"]}
    assert (printed["N"], printed["Fe"], printed.get("Cl")) == ("25.2", "0.10", None)
    wished = label_draft(rich | {"promised": {"N": 25, "Cl": 1}})
    printed = {g["key"]: g["printed"] for g in wished["guarantees"]}
    assert (printed["N"], printed["N.urea"], printed["Cl"]) == ("25", "12.1", "1.23")
    assert set(refused(label_draft, rich | {"promised": {"X": 1, "N": "24"}})) == {
        "promised.X", "promised.N",
    }  # fmt: skip


def test_a_formulations_analysis_may_be_sent_as_it_came() -> None:
    with_total = DRAFT | {"analysis": {"N": 25.21, **DRAFT["analysis"]}}
    assert label_draft(with_total) == label_draft(DRAFT)
    contradicts = DRAFT | {"analysis": {"N": 26, **DRAFT["analysis"]}}
    assert set(refused(label_draft, contradicts)) == {"analysis.N"}


def test_lines_may_be_lowered_or_dropped_and_never_raised() -> None:
    changes = [
        {"key": "N", "pct": 25, "reason": "room for assays"},
        {"key": "slow_release", "pct": None},
    ]
    answer = label_draft(DRAFT | {"changes": changes})
    assert answer["grade"] == "25-0-3"
    assert answer["slow_release_statement"] is None
    assert [(e["key"], e["from_pct"], e["to_pct"]) for e in answer["changes"]] == [
        ("N", 25.2, 25.0),
        ("N.urea", 12.3, 12.1),
        ("slow_release", 12.9, None),
    ]
    fields = refused(label_draft, DRAFT | {"changes": [{"key": "K2O", "pct": 3.1}]})
    assert "Soluble Potash (K2O) can be lowered, never raised" in fields["changes.0.pct"]


def test_a_custom_product_names_its_lot_and_its_people() -> None:
    # Utah Code 4-13-104(3): lot and blender; Wis. ATCP 40.08(2)(a): recipient and date.
    bare = label_draft(DRAFT)
    missing = [n["source"] for n in bare["notes"] if n["code"] == "particular_missing"]
    assert [source.split(" ")[0] for source in missing] == ["Utah", "Mont.", "Wis.", "Wis."]
    named = label_draft(
        DRAFT
        | {
            "lot": "B-7",
            "guarantor": "Demo Plant",
            "purchaser": "Demo Lawns",
            "delivered_on": "2 May 2026",
        }
    )
    assert named["text"].splitlines()[-4:] == [
        "Lot: B-7",
        "Guaranteed by: Demo Plant",
        "For: Demo Lawns",
        "Delivered: 2 May 2026",
    ]
    assert "particular_missing" not in {note["code"] for note in named["notes"]}


def test_metals_without_a_figure_are_not_assessed() -> None:
    phosphate = DRAFT | {"analysis": {"N.urea": 10.0, "P2O5": 8.0}}
    unknown = label_draft(phosphate)
    assert {check["verdict"] for check in unknown["metals"]} == {"not_assessed"}
    assert unknown["metals_yearly"] is None
    known = label_draft(
        phosphate | {"metals_ppm": {"As": 20.0, "Pb": 500.0}, "product_lb_per_acre_year": 1000.0}
    )
    verdicts = {(c["rule"], c["metal"]): c["verdict"] for c in known["metals"]}
    # Maine ch. 350 section 8: As 13, Pb 61 ppm per 1 %; California: As 2, Pb 20.
    assert verdicts["uniform", "As"] == "within"
    assert verdicts["uniform", "Pb"] == "above"
    assert verdicts["CA", "As"] == verdicts["CA", "Pb"] == "above"
    assert verdicts["uniform", "Cd"] == "not_assessed"
    yearly = {c["metal"]: c["verdict"] for c in known["metals_yearly"]}
    assert (yearly["As"], yearly["Pb"], yearly["Cd"]) == ("within", "within", "not_assessed")


def test_a_bad_label_request_names_every_field() -> None:
    body = {
        "analysis": {"N": 20, "K2O": "3"},
        "kind": "farm",
        "sources": [{"supplies": {"X": 1}}],
        "volume_gal": -1,
        "chelated": {"Fe": 0.1},
        "jurisdiction": "ZZ",
        "metals_ppm": {"As": -1},
        "product_lb_per_acre_year": 0,
        "colour": "clear",
    }
    assert set(refused(label_draft, body)) == {
        "analysis.N",
        "analysis.K2O",
        "kind",
        "sources.0.name",
        "sources.0.supplies.X",
        "density_lb_per_gal",
        "volume_gal",
        "chelated.Fe",
        "jurisdiction",
        "metals_ppm.As",
        "product_lb_per_acre_year",
        "colour",
    }
    assert set(refused(label_draft, [])) == {"body"}


def test_the_assay_check_contract_word_for_word() -> None:
    answer = assay_check(ASSAY)
    kept = ("key", "guaranteed", "found", "allowance", "floor", "verdict")
    # Florida Statutes 576.061(1)(b): 0.83 at 28 % N; N.H. Agr 1105.04: 0.005 + 10 % for Fe.
    assert [tuple(item[key] for key in kept) for item in answer["nutrients"]] == [
        ("N", 28, 27.2, 0.83, 27.17, "within_allowance"),
        ("K2O", 0, None, None, 0, "meets"),
        ("Fe", 0.1, 0.09, 0.015, 0.085, "within_allowance"),
    ]
    assert answer["index_value_pct"] == pytest.approx(97.142857)
    assert answer["index_verdict"] == "deficient"
    assert answer["deficient"] is True
    virginia = assay_check(ASSAY | {"rule": "VA"})
    assert (virginia["index_verdict"], virginia["deficient"]) == ("meets", False)


def test_a_bad_assay_names_every_field() -> None:
    body = {"guarantees": {"N": 28, "X": 1}, "found": {"Fe": 101}, "rule": "ZZ"}
    assert set(refused(assay_check, body)) == {"guarantees.X", "found.Fe", "found.N", "rule"}
    assert set(refused(assay_check, {})) == {"guarantees", "found"}


def test_the_allowance_in_one_call() -> None:
    assert allowance_pct("N", 28) == 0.83
    assert allowance_pct("N", 28, rule="VA") == pytest.approx(1.14)
    assert allowance_pct("humic_acid", 5) is None


@pytest.mark.parametrize(
    ("path", "body", "component"),
    [
        (LABEL_DRAFTS, DRAFT, "LabelDraft"),
        (
            LABEL_DRAFTS,
            DRAFT
            | {
                "analysis": {"N.urea": 20.0, "N.slow": 8.0, "P2O5": 6.0, "Fe": 0.3, "NBPT": 0.05},
                "chelated": {"Fe": 0.1},
                "promised": {"N": 28},
                "changes": [{"key": "P2O5", "pct": 5}],
                "metals_ppm": {"As": 1.0},
                "product_lb_per_acre_year": 200,
            },
            "LabelDraft",
        ),
        (ASSAY_CHECKS, ASSAY, "AssayCheck"),
        (ASSAY_CHECKS, {"guarantees": {"Ni": 0.01}, "found": {"Ni": 0.0}}, "AssayCheck"),
    ],
)
def test_a_signed_in_customer_is_answered_as_described(
    customer: User,
    signed_in: Callable[[User], Client],
    schema: dict[str, Any],
    path: str,
    body: dict[str, Any],
    component: str,
) -> None:
    response = post(signed_in(customer), path, body)
    assert response.status_code == 200
    assert response.json() == (label_draft if path == LABEL_DRAFTS else assay_check)(body)
    validator(schema, f"{component}AnswerShape").validate(response.json())
    validator(schema, f"{component}RequestShapeRequest").validate(body)
    answer_keys = set(schema["components"]["schemas"][f"{component}AnswerShape"]["properties"])
    assert set(response.json()) == answer_keys


@pytest.mark.parametrize("path", [LABEL_DRAFTS, ASSAY_CHECKS])
def test_a_stranger_is_turned_away_and_a_wrong_body_answered_by_field(
    client: Client, rep: User, signed_in: Callable[[User], Client], path: str
) -> None:
    assert post(client, path, {}).status_code in {401, 403}
    response = post(signed_in(rep), path, {"colour": 1})
    assert response.status_code == 400
    assert response.json()["fields"]["colour"] == "Is not a known key."
    assert post(signed_in(rep), path, "{").status_code == 400


def test_the_commands_answer_like_the_api(run: Callable[..., tuple[int, str, str]]) -> None:
    status, out, err = run("draftlabel", DRAFT, "--json")
    assert (status, json.loads(out), err) == (0, label_draft(DRAFT), "")
    status, out, err = run("checkassay", ASSAY, "--json")
    assert (status, json.loads(out), err) == (1, assay_check(ASSAY), "")
    status, _, _ = run("checkassay", ASSAY | {"rule": "VA"})
    assert status == 0


def test_the_commands_print_readable_lines(run: Callable[..., tuple[int, str, str]]) -> None:
    body = DRAFT | {
        "analysis": {**DRAFT["analysis"], "Fe": 0.2},
        "metals_ppm": {"As": 1.0},
        "product_lb_per_acre_year": 100,
        "changes": [{"key": "N", "pct": 25}],
    }
    status, out, _ = run("draftlabel", body)
    assert status == 0
    assert "Total Nitrogen (N) ................................. 25%" in out
    assert "Not claimed: 0.03 % Zinc (Zn) is below the 0.05 %" in out
    assert "Changed: Total Nitrogen (N) 25.2 % to 25 %" in out
    assert "Metals, uniform: Arsenic 1 of at most 112 ppm: within (" in out
    assert "Metals, uniform: Lead no figure of at most 463 ppm: not assessed (" in out
    assert "Metals, WA: Arsenic 0.0001 of at most 0.297 lb per acre and year: within (" in out
    _, out, _ = run("checkassay", {"guarantees": {"N": 28, "Ni": 1}, "found": {"N": 28, "Ni": 1}})
    assert "allowance unverified" in out
    assert "Overall index 100.00 %, at least 98 % asked: meets" in out


@pytest.mark.parametrize("name", ["draftlabel", "checkassay"])
@pytest.mark.parametrize("body", ["{", "[]", '{"colour": 1}'])
def test_a_bad_request_exits_2_with_its_fields_on_standard_error(
    run: Callable[..., tuple[int, str, str]], name: str, body: str
) -> None:
    status, out, err = run(name, body, "--json")
    assert (status, out) == (2, "")
    assert err.strip()
