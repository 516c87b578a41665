"""The formulation contract: every key, every nesting, and figures worked by hand."""

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from formulas.contracts.formulation import curve, formulate
from tests.formulas.sample_wishes import STOCKS, out_of_reach, wish

TEXT = {"type": "string", "minLength": 1}
MONEY = {"type": "string", "pattern": r"^-?\d+\.\d{2}$"}
UNIT_PRICE = {"type": "string", "pattern": r"^-?\d+\.\d{4}$"}
NUMBER = {"type": "number"}
#: Where the figure of a wish stands in the request; null for facts of stocks and rules.
PATH = {"type": ["string", "null"], "pattern": r"^[a-z_]+(\.\d+)?(\.[a-z_]+)?$"}


def exactly(**properties: Any) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def many(items: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": items}


TOTALS = exactly(
    mass_lb=NUMBER,
    volume_gal=NUMBER,
    density_lb_per_gal=NUMBER,
    cost=MONEY,
    cost_per_lb=UNIT_PRICE,
    cost_per_gal=UNIT_PRICE,
)
BLEND = {
    "recipe": many(
        exactly(code=TEXT, name=TEXT, pct=NUMBER, lb=NUMBER, gal=NUMBER, cost=MONEY),
    ),
    "totals": TOTALS,
    "analysis": {"type": "object", "additionalProperties": NUMBER},
    "slow_release_pct": {"type": ["number", "null"]},
    "warnings": many(
        exactly(
            code=TEXT, severity={"enum": ["info", "caution", "stop"]}, message=TEXT, source=TEXT
        )
    ),
}
REST = {
    "sensitivity": many(exactly(wish=TEXT, field=PATH, cost_per_unit=UNIT_PRICE)),
    "left_out": many(exactly(code=TEXT, reason=TEXT)),
}
SOLVED = exactly(status={"const": "solved"}, **BLEND, **REST)
OUT_OF_REACH = exactly(
    status={"const": "out_of_reach"},
    **{**BLEND, "totals": {"type": "null"}},
    **REST,
    out_of_reach=exactly(
        conflict=many(TEXT),
        conflict_fields=many(PATH),
        reach=many(exactly(wish=TEXT, field=PATH, asked=NUMBER, best={"type": ["number", "null"]})),
        alternatives=many(
            exactly(
                relaxed=many(exactly(wish=TEXT, field=PATH, to=NUMBER)),
                **BLEND,
                request={"type": "object"},
            )
        ),
    ),
)


def answer(body: dict[str, Any]) -> dict[str, Any]:
    found = formulate(body, catalogue=None).answer.contract_json()
    # What is not plain JSON would fail here, NaN included.
    return json.loads(json.dumps(found, allow_nan=False))


def test_a_solved_answer_has_every_key_of_the_contract_and_no_other() -> None:
    Draft202012Validator(SOLVED).validate(answer(wish()))


def test_an_answer_out_of_reach_has_every_key_of_the_contract_and_no_other() -> None:
    found = answer(out_of_reach())
    Draft202012Validator(OUT_OF_REACH).validate(found)
    assert found["out_of_reach"]["conflict"]
    assert found["out_of_reach"]["alternatives"]


def test_diluting_uan_follows_the_pearson_square() -> None:
    """28 % N from 32 % N and water: 28 parts of 32, by hand; 1,000 lb at 18.7 cents."""
    found = answer({"stocks": [STOCKS[0], STOCKS[4]], "targets": [{"nutrient": "N", "min": 28}],
                    "fill": {"mass_lb": 1000}})  # fmt: skip
    uan, water = found["recipe"]
    assert (uan["code"], uan["pct"], uan["lb"], uan["cost"]) == ("UAN", 87.5, 875.0, "163.63")
    assert (water["code"], water["pct"], water["lb"], water["cost"]) == (
        "WATER",
        12.5,
        125.0,
        "0.00",
    )
    assert uan["gal"] == pytest.approx(875 / 11.06, abs=1e-6)
    assert found["analysis"] == {
        "N": 28.0, "N.ammoniacal": 7.0, "N.nitrate": 7.0, "N.urea": 14.0
    }  # fmt: skip
    assert found["totals"]["cost"] == "163.63"  # 163.625 rounded half up
    assert found["totals"]["cost_per_lb"] == "0.1636"
    gallons = 875 / 11.06 + 125 / 8.34
    assert found["totals"]["volume_gal"] == pytest.approx(gallons, abs=1e-6)
    assert found["totals"]["cost_per_gal"] == f"{163.625 / gallons:.4f}"
    assert found["slow_release_pct"] == 0
    # One more percent of N is 1/32 lb more UAN per lb of blend: 0.187 / 32.
    assert found["sensitivity"] == [
        {"wish": "N at least 28", "field": "targets.0.min", "cost_per_unit": "0.0058"}
    ]


def test_a_volume_is_filled_to_that_volume() -> None:
    totals = answer(wish())["totals"]
    assert totals["volume_gal"] == 265.0
    assert totals["mass_lb"] == pytest.approx(265 * totals["density_lb_per_gal"], abs=1e-3)


def test_the_recipe_stands_by_descending_share() -> None:
    shares = [line["pct"] for line in answer(wish())["recipe"]]
    assert shares == sorted(shares, reverse=True)
    assert len(shares) > 2
    equal = [{**STOCKS[4], "code": code} for code in ("B", "A")]
    halves = [{"code": code, "pct": 50} for code in ("B", "A")]
    lines = answer({"stocks": equal, "recipe": halves})["recipe"]
    assert [line["code"] for line in lines] == ["A", "B"]


def test_stocks_without_nitrogen_have_no_slow_release_share() -> None:
    found = answer({"stocks": STOCKS, "targets": [{"nutrient": "K2O", "min": 3}]})
    assert found["slow_release_pct"] is None


def test_without_a_fill_the_answer_is_for_one_gallon() -> None:
    assert answer(wish(fill=None))["totals"]["volume_gal"] == 1.0


def test_strongest_takes_as_much_as_there_is() -> None:
    found = answer(
        {"stocks": STOCKS, "objective": {"strongest": "N"}, "slow_release_pct": {"min": 0}}
    )
    assert found["analysis"]["N"] == 32.0


def test_the_shipped_rules_hold_for_stocks_of_the_request() -> None:
    body = wish(exclude=[], targets=[{"nutrient": "N", "min": 20}, {"nutrient": "Fe", "min": 0.1}])
    found = answer(body)
    assert found["status"] == "out_of_reach"
    assert "urea-triazone and non-chelated iron must not meet" in found["out_of_reach"]["conflict"]


def test_rules_of_the_request_replace_the_shipped_ones() -> None:
    body = wish(exclude=[], targets=[{"nutrient": "N", "min": 20}, {"nutrient": "Fe", "min": 0.1}])
    assert answer({**body, "rules": []})["status"] == "solved"
    rule = {"trait_a": "nitrate", "trait_b": "triazone", "effect": "blocks"}
    blocked = answer({**body, "rules": [rule]})
    assert "UAN" not in {line["code"] for line in blocked["recipe"]}


def test_an_alternative_taken_by_its_request_gives_exactly_that_blend() -> None:
    body = out_of_reach()
    alternatives = answer(body)["out_of_reach"]["alternatives"]
    assert alternatives
    for alternative in alternatives:
        taken = answer({"stocks": STOCKS, **alternative["request"]})
        assert taken["status"] == "solved"
        assert taken["recipe"] == alternative["recipe"]
        assert taken["totals"] == alternative["totals"]


def test_every_reach_can_really_be_had_and_a_tenth_more_cannot() -> None:
    body = out_of_reach()
    reach = answer(body)["out_of_reach"]["reach"]
    best = next(item["best"] for item in reach if item["field"] == "targets.0.min")
    for more, status in ((0.0, "solved"), (0.1, "out_of_reach")):
        targets = [{"nutrient": "N", "min": best + more}, body["targets"][1]]
        assert answer({**body, "targets": targets})["status"] == status


cents = st.decimals(min_value=0, max_value=5, places=4)


@settings(max_examples=60, deadline=None)
@given(costs=st.lists(cents, min_size=3, max_size=3), mass=st.floats(min_value=1, max_value=50_000))
def test_the_lines_always_add_up_to_the_total_to_the_cent(
    costs: list[Decimal], mass: float
) -> None:
    stocks = [{**STOCKS[i], "cost_per_lb": str(cost)} for i, cost in enumerate(costs)]
    shares = [33.4, 33.3, 33.3]
    recipe = [{"code": s["code"], "pct": pct} for s, pct in zip(stocks, shares, strict=True)]
    found = answer({"stocks": stocks, "recipe": recipe, "fill": {"mass_lb": mass}})
    lines = [Decimal(line["cost"]) for line in found["recipe"]]
    assert sum(lines) == Decimal(found["totals"]["cost"])
    exact = sum(
        Decimal(repr(round(mass * pct / 100, 6))) * cost
        for pct, cost in zip(shares, costs, strict=True)
    )
    assert abs(exact - sum(lines)) <= Decimal("0.005")


def test_a_complete_recipe_without_wishes_is_evaluated_even_if_it_must_not_be_mixed() -> None:
    recipe = [{"code": "TRZ", "pct": 90}, {"code": "FES", "pct": 10}]
    found = answer({"stocks": STOCKS, "recipe": recipe})
    assert found["status"] == "solved"
    assert found["analysis"]["Fe"] == 0.51
    assert found["warnings"][0]["severity"] == "stop"
    assert "must not meet" in found["warnings"][0]["message"]


def test_the_rest_is_solved_around_fixed_shares() -> None:
    recipe = [{"code": "KAC", "pct": 10}]
    found = answer(wish(recipe=recipe, stock_limits=None, targets=[{"nutrient": "N", "min": 20}]))
    shares = {line["code"]: line["pct"] for line in found["recipe"]}
    assert shares["KAC"] == 10.0
    assert found["analysis"]["N"] == 20.0


def test_a_complete_recipe_beside_a_wish_is_held_against_it() -> None:
    recipe = [{"code": "UAN", "pct": 50}, {"code": "WATER", "pct": 50}]
    body = {"stocks": STOCKS, "recipe": recipe}
    assert answer({**body, "targets": [{"nutrient": "N", "min": 16}]})["status"] == "solved"
    found = answer({**body, "targets": [{"nutrient": "N", "min": 17}]})
    assert found["status"] == "out_of_reach"
    assert found["out_of_reach"]["reach"][0]["best"] == 16.0


def test_the_curve_starts_at_no_slow_release_and_never_falls() -> None:
    found = curve(wish(), catalogue=None, points=5)["points"]
    assert len(found) == 5
    assert found[0]["slow_release_pct"] == 0
    costs = [Decimal(point["cost_per_lb"]) for point in found]
    assert costs == sorted(costs)
    assert costs[-1] > costs[0]
    complete = {"stocks": STOCKS, "recipe": [{"code": "UAN", "pct": 100}]}
    assert curve(complete, catalogue=None) == {"points": []}


def test_the_same_wish_gives_the_same_bytes_whatever_the_order_of_stocks() -> None:
    backwards = wish(stocks=STOCKS[::-1])
    assert json.dumps(answer(wish())) == json.dumps(answer(backwards))
