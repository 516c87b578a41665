# ruff: noqa: E501 - a table is read along its lines
"""Every bad input is refused with its path and a sentence; nothing is clamped or ignored."""

import math
from typing import Any

import pytest

from blendshop.errors import BadInput
from formulas.contracts.formulation import NoTrustworthyAnswer, formulate
from formulas.contracts.strict_json import read_json
from formulas.engine.result import EngineFailure
from tests.formulas.sample_wishes import STOCKS, wish

NAN, INF = math.nan, math.inf
HUGE = 10**400


def stock(**changes: Any) -> dict[str, Any]:
    found = {**STOCKS[0], **changes}
    return {key: value for key, value in found.items() if value != "leave out"}


BAD: list[tuple[str, dict[str, Any], str]] = [
    # what is refused, the changes to a good wish, the path named
    ("an unknown key", {"tragets": []}, "tragets"),
    ("an unknown nutrient", {"targets": [{"nutrient": "Unobtainium", "min": 1}]}, "targets.0.nutrient"),
    ("a target without nutrient", {"targets": [{"min": 1}]}, "targets.0.nutrient"),
    ("a target without limits", {"targets": [{"nutrient": "N"}]}, "targets.0"),
    ("an unknown key in a target", {"targets": [{"nutrient": "N", "minimum": 1}]}, "targets.0.minimum"),
    ("targets that are no list", {"targets": {"nutrient": "N"}}, "targets"),
    ("a target that is no object", {"targets": [24]}, "targets.0"),
    ("a negative limit", {"targets": [{"nutrient": "N", "min": -1}]}, "targets.0.min"),
    ("more than all", {"targets": [{"nutrient": "N", "min": 101}]}, "targets.0.min"),
    ("minimum above maximum", {"targets": [{"nutrient": "N", "min": 5, "max": 4}]}, "targets.0.min"),
    ("NaN", {"targets": [{"nutrient": "N", "min": NAN}]}, "targets.0.min"),
    ("infinity", {"targets": [{"nutrient": "N", "max": INF}]}, "targets.0.max"),
    ("minus infinity", {"targets": [{"nutrient": "N", "max": -INF}]}, "targets.0.max"),
    ("an endless integer", {"targets": [{"nutrient": "N", "max": HUGE}]}, "targets.0.max"),
    ("true as a number", {"targets": [{"nutrient": "N", "min": True}]}, "targets.0.min"),
    ("text as a number", {"targets": [{"nutrient": "N", "min": "24"}]}, "targets.0.min"),
    ("a list as a number", {"targets": [{"nutrient": "N", "min": [24]}]}, "targets.0.min"),
    ("a share of N above all", {"slow_release_pct": {"min": 120}}, "slow_release_pct.min"),
    ("a share of N without limits", {"slow_release_pct": {}}, "slow_release_pct"),
    ("a bare share of N", {"slow_release_pct": 50}, "slow_release_pct"),
    ("a limit on no stock", {"stock_limits": [{"code": "NIX", "min_pct": 1}]}, "stock_limits.0.code"),
    ("a limit in wrong order", {"stock_limits": [{"code": "UAN", "min_pct": 9, "max_pct": 1}]}, "stock_limits.0.min_pct"),
    ("minimum shares above all", {"stock_limits": [{"code": "UAN", "min_pct": 60}, {"code": "KAC", "min_pct": 60}]}, "stock_limits"),
    ("leaving out no stock", {"exclude": ["NIX"]}, "exclude"),
    ("a number to leave out", {"exclude": [7]}, "exclude.0"),
    ("a negative charge", {"smallest_charge_pct": -1}, "smallest_charge_pct"),
    ("a gallon for nothing", {"cost_per_gal": {"max": 0}}, "cost_per_gal.max"),
    ("a gallon below nothing", {"cost_per_gal": {"max": -2}}, "cost_per_gal.max"),
    ("a gallon for NaN", {"cost_per_gal": {"max": NAN}}, "cost_per_gal.max"),
    ("a gallon for text", {"cost_per_gal": {"max": "3"}}, "cost_per_gal.max"),
    ("a gallon without a cost", {"cost_per_gal": {}}, "cost_per_gal.max"),
    ("a gallon at least", {"cost_per_gal": {"max": 3, "min": 1}}, "cost_per_gal.min"),
    ("a bare cost of a gallon", {"cost_per_gal": 3}, "cost_per_gal"),
    ("no stocks at most", {"most_stocks": 0}, "most_stocks"),
    ("half a stock", {"most_stocks": 2.5}, "most_stocks"),
    ("NaN stocks", {"most_stocks": NAN}, "most_stocks"),
    ("true stocks", {"most_stocks": True}, "most_stocks"),
    ("an unknown objective", {"objective": "dearest"}, "objective"),
    ("strongest of nothing known", {"objective": {"strongest": "Xe"}}, "objective.strongest"),
    ("strongest and more", {"objective": {"strongest": "N", "x": 1}}, "objective.x"),
    ("cheapest per mile", {"objective": {"cheapest_per": "mile"}}, "objective.cheapest_per"),
    (
        "two objectives",
        {"objective": {"cheapest_per": "gal", "strongest": "N"}},
        "objective.cheapest_per",
    ),
    ("no amount", {"fill": {}}, "fill"),
    ("two amounts", {"fill": {"volume_gal": 1, "mass_lb": 1}}, "fill"),
    ("an empty tote", {"fill": {"volume_gal": 0}}, "fill.volume_gal"),
    ("an endless tote", {"fill": {"mass_lb": INF}}, "fill.mass_lb"),
    ("no stocks", {"stocks": []}, "stocks"),
    ("text as stocks", {"stocks": "all"}, "stocks"),
    ("a stock without code", {"stocks": [stock(code="leave out")]}, "stocks.0.code"),
    ("a blank code", {"stocks": [stock(code=" ")]}, "stocks.0.code"),
    ("a code twice", {"stocks": [stock(), stock()]}, "stocks.0.code"),
    ("no density", {"stocks": [stock(density_lb_per_gal="leave out")]}, "stocks.0.density_lb_per_gal"),
    ("density 0", {"stocks": [stock(density_lb_per_gal=0)]}, "stocks.0.density_lb_per_gal"),
    ("NaN density", {"stocks": [stock(density_lb_per_gal=NAN)]}, "stocks.0.density_lb_per_gal"),
    ("no cost", {"stocks": [stock(cost_per_lb="leave out")]}, "stocks.0.cost_per_lb"),
    ("a negative cost", {"stocks": [stock(cost_per_lb="-0.1")]}, "stocks.0.cost_per_lb"),
    ("a cost that is no number", {"stocks": [stock(cost_per_lb="NaN")]}, "stocks.0.cost_per_lb"),
    ("an endless cost", {"stocks": [stock(cost_per_lb="Infinity")]}, "stocks.0.cost_per_lb"),
    ("a cost in words", {"stocks": [stock(cost_per_lb="a dime")]}, "stocks.0.cost_per_lb"),
    ("a cost of true", {"stocks": [stock(cost_per_lb=True)]}, "stocks.0.cost_per_lb"),
    ("a cost of many digits", {"stocks": [stock(cost_per_lb="0." + "1" * 60)]}, "stocks.0.cost_per_lb"),
    ("total N instead of forms", {"stocks": [stock(analysis={"N": 32})]}, "stocks.0.analysis.N"),
    ("an unknown content", {"stocks": [stock(analysis={"Xe": 1})]}, "stocks.0.analysis.Xe"),
    ("a content without number", {"stocks": [stock(analysis={"K2O": None})]}, "stocks.0.analysis.K2O"),
    ("a content of NaN", {"stocks": [stock(analysis={"K2O": NAN})]}, "stocks.0.analysis.K2O"),
    ("an analysis above all", {"stocks": [stock(analysis={"K2O": 60, "N.urea": 50})]}, "stocks.0.analysis"),
    ("shares in wrong order", {"stocks": [stock(min_pct=5, max_pct=1)]}, "stocks.0.min_pct"),
    ("minimum shares of stocks above all", {"stocks": [stock(min_pct=60), stock(code="B", min_pct=60)], "stock_limits": None, "exclude": None}, "stocks"),
    ("an unknown key in a stock", {"stocks": [stock(price=1)]}, "stocks.0.price"),
    ("traits in one text", {"stocks": [stock(traits="nitrate")]}, "stocks.0.traits"),
    ("a rule without effect", {"rules": [{"trait_a": "a", "trait_b": "b"}]}, "rules.0.effect"),
    ("a rule of unknown effect", {"rules": [{"trait_a": "a", "trait_b": "b", "effect": "kills"}]}, "rules.0.effect"),
    ("a limit without figure", {"rules": [{"trait_a": "a", "trait_b": "b", "effect": "limit"}]}, "rules.0.largest_pct"),
    ("a recipe of no stock", {"recipe": [{"code": "NIX", "pct": 5}]}, "recipe.0.code"),
    ("a recipe naming a stock twice", {"recipe": [{"code": "UAN", "pct": 5}, {"code": "UAN", "pct": 5}]}, "recipe.1.code"),
    ("a recipe without share", {"recipe": [{"code": "UAN"}]}, "recipe.0.pct"),
    ("a negative share", {"recipe": [{"code": "UAN", "pct": -5}]}, "recipe.0.pct"),
    ("a recipe above all", {"recipe": [{"code": "UAN", "pct": 60}, {"code": "TRZ", "pct": 60}]}, "recipe"),
    ("a recipe of an excluded stock", {"recipe": [{"code": "FES", "pct": 5}]}, "recipe.0.code"),
    ("a recipe of a limited stock", {"recipe": [{"code": "KAC", "pct": 5}]}, "recipe.0.code"),
    ("endless lists", {"exclude": ["UAN"] * 501}, "exclude"),
    ("endless text", {"exclude": ["U" * 401]}, "exclude.0"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "path"), [(c, p) for _, c, p in BAD], ids=[w for w, _, _ in BAD]
)
def test_bad_input_is_refused_at_its_place(changes: dict[str, Any], path: str) -> None:
    with pytest.raises(BadInput) as refused:
        formulate(wish(**changes), catalogue=None)
    assert path in refused.value.fields, refused.value.fields
    assert refused.value.fields[path].endswith(".")


def test_every_wrong_field_is_named_at_once() -> None:
    body = wish(fill={"volume_gal": -1}, most_stocks=0, nonsense=1,
                targets=[{"nutrient": "N", "min": NAN}, {"nutrient": "Xe", "min": 1}])  # fmt: skip
    with pytest.raises(BadInput) as refused:
        formulate(body, catalogue=None)
    assert set(refused.value.fields) == {
        "targets.0.min", "targets.1.nutrient", "fill.volume_gal", "most_stocks", "nonsense"
    }  # fmt: skip


@pytest.mark.parametrize("body", [None, [], "wish", 7, True])
def test_a_body_that_is_no_object_is_refused(body: Any) -> None:
    with pytest.raises(BadInput) as refused:
        formulate(body, catalogue=None)
    assert list(refused.value.fields) == ["body"]


def test_an_incomplete_recipe_without_wishes_is_refused() -> None:
    with pytest.raises(BadInput, match="fields") as refused:
        formulate({"stocks": STOCKS, "recipe": [{"code": "UAN", "pct": 60}]}, catalogue=None)
    assert "60 %" in refused.value.fields["recipe"]


def test_without_stocks_and_without_catalogue_nothing_can_be_formulated() -> None:
    with pytest.raises(BadInput) as refused:
        formulate({"targets": []}, catalogue=None)
    assert "stocks" in refused.value.fields


@pytest.mark.parametrize(
    "text", ["", "{", "[1,]", '{"a": 1, "a": 2}', "[" * 100_000, "9" * 5000, b"\xff\xfe{}"],
    ids=["empty", "cut", "comma", "twice", "deep", "endless", "encoding"],
)  # fmt: skip
def test_text_that_is_no_json_is_refused_in_a_sentence(text: str | bytes) -> None:
    with pytest.raises(BadInput) as refused:
        read_json(text)
    assert refused.value.message.endswith(".")


def test_a_failure_of_the_engine_is_never_shown_as_a_blend(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(problem: Any) -> None:
        raise EngineFailure("the shares do not add up")

    monkeypatch.setattr("formulas.contracts.formulation.solve", fails)
    with pytest.raises(NoTrustworthyAnswer) as refused:
        formulate(wish(), catalogue=None)
    assert refused.value.status == 500
