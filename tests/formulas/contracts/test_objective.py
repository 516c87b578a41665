"""The objective ``cheapest_per``: least dollars per gallon, pound or pound of nitrogen."""

from decimal import Decimal

import pytest

from formulas.answers.wish import Wish
from formulas.contracts.formulation import formulate

#: The first is cheaper by the pound, the second, being lighter, by the gallon.
STOCKS = [
    {"code": code, "density_lb_per_gal": lb_per_gal, "cost_per_lb": cost, "analysis": {"N.urea": n}}
    for code, lb_per_gal, cost, n in (
        ("HEAVY", 12.0, "0.20", 20),
        ("LIGHT", 9.0, "0.22", 20),
        ("STRONG", 13.0, "0.25", 40),
    )
]


@pytest.mark.parametrize(("per", "code"), [("lb", "HEAVY"), ("gal", "LIGHT"), ("lb_N", "STRONG")])
def test_each_unit_has_its_own_cheapest(per: str, code: str) -> None:
    body = {"stocks": STOCKS, "targets": [{"nutrient": "N", "min": 15}]}
    answer = formulate(body | {"objective": {"cheapest_per": per}}, catalogue=None).answer
    assert [line.code for line in answer.recipe] == [code]
    assert answer.totals is not None
    # 9 lb at $0.22 is less than 12 lb at $0.20.
    assert per != "gal" or answer.totals.cost_per_gal == Decimal("1.9800")


def test_an_alternative_asks_for_the_same_objective_and_is_read_again() -> None:
    body = {
        "stocks": STOCKS,
        "targets": [{"nutrient": "N", "min": 41}],
        "objective": {"cheapest_per": "gal"},
    }
    answer = formulate(body, catalogue=None).answer
    wish = answer.out_of_reach.alternatives[0].request
    assert wish.contract_json()["objective"] == {"cheapest_per": "gal"}
    assert Wish.from_json(wish.to_json()) == wish
