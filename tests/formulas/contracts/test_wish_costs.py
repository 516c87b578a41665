"""``wish_costs``: what a second formulation with the moved figure costs more per gallon."""

from copy import deepcopy
from decimal import Decimal

from formulas.contracts.formulation import formulate
from formulas.contracts.spoken_formulation import formulate_spoken
from tests.formulas.sample_wishes import wish


def moved(body, path, step):
    """The body with the figure at the path ``step`` away."""
    body = deepcopy(body)
    *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    place = body
    for part in way:
        place = place[part]
    place[last] = round(place[last] + step, 6)
    return body


def test_each_is_to_the_digit_what_a_second_formulation_says() -> None:
    body = wish()
    answer = formulate_spoken(body, catalogue=None).contract_json()
    here = Decimal(answer["totals"]["cost_per_gal"])
    assert len({Decimal(item["material_per_gal"] or 0) for item in answer["wish_costs"]}) > 4
    for item in answer["wish_costs"]:
        second = formulate(moved(body, item["field"], item["step"]), catalogue=None).answer
        assert item["status"] == second.status
        if item["status"] == "solved":
            there = second.totals.cost_per_gal
            assert Decimal(item["material_per_gal"]) == there - here


def test_a_recipe_that_was_only_evaluated_has_no_wish_to_move() -> None:
    body = {"stocks": wish()["stocks"], "recipe": [{"code": "KAC", "pct": 100}]}
    assert "wish_costs" not in formulate_spoken(body, catalogue=None).contract_json()
