"""Bodies as large as one request may be: stocks, rules and choices of every kind."""

import random
from typing import Any

from formulas.contracts.formulation_request import MOST_RULES, MOST_STOCKS

OTHERS = ("P2O5", "K2O", "S", "Ca", "Mg", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
KEYS = ("N.urea", "N.ammoniacal", "N.nitrate", "N.slow", *OTHERS)
WISHED = ("N", *OTHERS)
TRAITS = tuple(f"t{at}" for at in range(20))


def largest_question(
    number: int, *, effects: tuple[str, ...], times: float = 1.0, **asked: Any
) -> dict[str, Any]:
    """The question of a number, its minima ``times`` as high.

    ``effects`` are those of its rules in turn, ``asked`` is asked besides or otherwise.
    """
    drawn = random.Random(number)  # noqa: S311 - any figures will do
    stocks = [
        {
            "code": f"S{at}",
            "density_lb_per_gal": round(drawn.uniform(8.4, 11.5), 2),
            "cost_per_lb": f"{drawn.uniform(0.02, 0.9):.4f}",
            "analysis": {
                key: round(drawn.uniform(0.5, 9), 2)
                for key in drawn.sample(KEYS, drawn.randint(1, 4))
            },
            "traits": drawn.sample(TRAITS, drawn.randint(1, 2)),
        }
        for at in range(MOST_STOCKS - 1)
    ]
    water = {"code": "WATER", "density_lb_per_gal": 8.34, "cost_per_lb": "0", "traits": ["water"]}
    rules: list[dict[str, Any]] = []
    for at in range(MOST_RULES):
        effect = effects[at % len(effects)]
        a, b = drawn.sample(TRAITS, 2)
        limit = {"largest_pct": round(drawn.uniform(3, 20), 1)} if effect == "limit" else {}
        rules.append({"trait_a": a, "trait_b": b, "effect": effect, **limit})
    return {
        "stocks": [*stocks, water],
        "rules": rules,
        "targets": [
            {"nutrient": key, "min": round(times * drawn.uniform(0.2, 1.2), 2)} for key in WISHED
        ],
        "slow_release_pct": {"min": 20},
        "fill": {"volume_gal": 265},
    } | asked


def largest_questions() -> dict[str, dict[str, Any]]:
    """By name: with each kind of choice alone and all of them together, in and out of reach."""
    choices = {"smallest_charge_pct": 2, "most_stocks": 10}
    return {
        "blocks": largest_question(0, effects=("blocks",)),
        "limits": largest_question(1, effects=("limit",)),
        "few_stocks": largest_question(2, effects=("jar_test",), most_stocks=6),
        "charges": largest_question(3, effects=("jar_test",), smallest_charge_pct=4),
        "all": largest_question(4, effects=("blocks", "limit"), **choices),
        "all_again": largest_question(5, effects=("blocks", "limit", "limit"), **choices),
        "strongest": largest_question(
            6, effects=("blocks", "limit"), objective={"strongest": "N"}, **choices
        ),
        "out_of_reach_of_all": largest_question(
            20, effects=("blocks",), times=1.3, smallest_charge_pct=2, most_stocks=8
        ),
        "out_of_reach_of_stocks": largest_question(
            26, effects=("blocks", "limit"), times=1.5, most_stocks=12
        ),
        "out_of_reach_of_limits": largest_question(27, effects=("limit",), times=1.6),
    }
