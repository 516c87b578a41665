"""The wish ``cost_per_gal``: what the stocks of a gallon may cost, as the totals print it."""

from decimal import Decimal
from typing import Any

import pytest

from formulas.answers.wish import CostPerGal, Wish
from formulas.contracts.formulation import formulate
from formulas.contracts.wish_costs import with_wish_costs
from tests.formulas.sample_wishes import wish


def answer(**changes: Any) -> Any:
    return formulate(wish(**changes), catalogue=None).answer


CHEAPEST = answer(objective={"cheapest_per": "gal"}).totals.cost_per_gal


@pytest.mark.parametrize("above", ["0", "0.00003", "0.01", "0.3"])
def test_the_printed_cost_is_within_it_down_to_the_cheapest_gallon(above: str) -> None:
    most = CHEAPEST + Decimal(above)
    found = answer(cost_per_gal={"max": float(most)}, objective={"strongest": "N"})
    assert found.status == "solved"
    assert found.totals.cost_per_gal <= most
    if Decimal(above) >= Decimal("0.01"):
        free = answer(objective={"strongest": "N"})
        assert found.totals.cost_per_gal == min(most, free.totals.cost_per_gal)


def test_below_it_the_answer_says_what_gives_and_the_least_that_can_be_had() -> None:
    found = answer(cost_per_gal={"max": float(CHEAPEST) - 0.1}).out_of_reach
    assert "cost_per_gal.max" in found.conflict_fields
    words = dict(zip(found.conflict_fields, found.conflict, strict=True))["cost_per_gal.max"]
    assert words == f"materials at most ${CHEAPEST - Decimal('0.1'):.4f}".rstrip("0") + " a gallon"
    (reach,) = [each for each in found.reach if each.field == "cost_per_gal.max"]
    assert Decimal(repr(reach.best)) == CHEAPEST
    for instead in found.alternatives:
        most = instead.request.cost_per_gal.max
        assert instead.totals.cost_per_gal <= Decimal(repr(most))
        again = formulate(wish() | instead.request.contract_json(), catalogue=None).answer
        assert again.status == "solved", "an alternative's request asks for exactly it"


def test_a_dime_either_way_is_told_beside_the_other_steps() -> None:
    formulation = formulate(
        wish(cost_per_gal={"max": float(CHEAPEST) + 0.05}, objective={"strongest": "N"}),
        catalogue=None,
    )
    steps = with_wish_costs(formulation).answer.wish_costs
    mine = {each.step: each.status for each in steps if each.field == "cost_per_gal.max"}
    assert mine == {0.1: "solved", -0.1: "out_of_reach"}


def test_a_typed_recipe_beside_it_is_held_against_it() -> None:
    recipe = [{"code": "UAN", "pct": 50}, {"code": "WATER", "pct": 50}]
    only = {"targets": None, "slow_release_pct": None, "stock_limits": None, "exclude": None,
            "smallest_charge_pct": None, "most_stocks": None, "objective": None}  # fmt: skip
    cost = answer(recipe=recipe, **only).totals.cost_per_gal
    assert answer(recipe=recipe, cost_per_gal={"max": float(cost)}, **only).status == "solved"
    dear = answer(recipe=recipe, cost_per_gal={"max": float(cost) - 0.01}, **only)
    assert "cost_per_gal.max" in dear.out_of_reach.conflict_fields


def test_a_stored_wish_keeps_it_and_older_ones_have_none() -> None:
    asked = Wish(cost_per_gal=CostPerGal(3.2, 8.0, "gal"))
    assert Wish.from_json(asked.to_json()) == asked
    assert asked.contract_json()["cost_per_gal"] == {"max": 3.2, "price": 8.0, "price_per": "gal"}
    older = {key: value for key, value in asked.to_json().items() if key != "cost_per_gal"}
    assert Wish.from_json(older).cost_per_gal is None
