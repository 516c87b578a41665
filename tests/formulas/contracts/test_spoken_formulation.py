"""A formulation asked for in one line: the same answer, or which words stand in the way."""

from typing import Any

import pytest

from blendshop.errors import BadInput
from formulas.contracts.spoken_formulation import formulate_spoken
from tests.formulas.sample_wishes import STOCKS


def spoken(line: Any, **beside: Any) -> dict[str, Any]:
    return {"stocks": STOCKS, "line": line} | beside


def test_a_line_is_answered_like_the_body_it_stands_for() -> None:
    found = formulate_spoken(
        spoken("24-0-2 half slow, no nitrate, 2 totes, 0.7 lb N, for MD"), catalogue=None
    ).contract_json()
    body = {
        "stocks": STOCKS,
        "targets": [{"nutrient": "N", "min": 24.0}, {"nutrient": "K2O", "min": 2.0}],
        "slow_release_pct": {"min": 50.0},
        "exclude": ["UAN"],
        "fill": {"volume_gal": 530.0},
    }
    assert found.pop("understood") == body
    assert found.pop("understood_beside") == {"n_rate_lb_per_1000sqft": 0.7, "state": "MD"}
    assert found == formulate_spoken(body, catalogue=None).contract_json()


@pytest.mark.parametrize(
    ("amount", "fill"),
    [
        ("a tote", {"volume_gal": 265.0}),
        ("2 drums", {"volume_gal": 110.0}),
        ("3 275 gal totes", {"volume_gal": 825.0}),
        ("530 gallons", {"volume_gal": 530.0}),
        ("2 tons", {"mass_lb": 4000.0}),
    ],
)
def test_the_unit_decides_how_much_is_made(amount: str, fill: dict[str, float]) -> None:
    found = formulate_spoken(spoken(f"20-0-0, {amount}"), catalogue=None)
    assert found.understood is not None
    assert found.understood["fill"] == fill


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("24-0-3 foo 7", "Not understood: foo, 7."),
        ("iron and 10 totes", "0.1 % iron"),
        ("24-0-3, some micros", "Which micronutrients"),
        ("24,5-0-3", "24.5-0-3"),
        ("24-0-3, legal where I spray", "leave out legal where I spray"),
        ("hello", "asks for nothing"),
        ("24-0-3 \x07", "control character"),
        ("24-0-3 " * 1500, "at most 400 characters"),
        (7, "Must be text"),
        ("  ", "Must not be empty"),
    ],
)
def test_what_is_not_clear_is_refused_at_the_line(line: Any, named: str) -> None:
    with pytest.raises(BadInput) as refused:
        formulate_spoken(spoken(line), catalogue=None)
    assert set(refused.value.fields) == {"line"}
    assert named in refused.value.fields["line"]


def test_what_is_said_twice_is_refused_at_both_places() -> None:
    targets = [{"nutrient": "Fe", "min": 0.1}, {"nutrient": "N", "min": 20}]
    with pytest.raises(BadInput) as refused:
        formulate_spoken(
            spoken("24-0-2, a tote", targets=targets, fill={"volume_gal": 10}), catalogue=None
        )
    assert set(refused.value.fields) == {"line", "targets.1", "fill"}


def test_keys_beside_the_line_say_the_rest() -> None:
    found = formulate_spoken(
        spoken("20-0-0", targets=[{"nutrient": "Fe", "min": 0.1}], most_stocks=4), catalogue=None
    )
    assert found.understood is not None
    assert found.understood["targets"] == [
        {"nutrient": "Fe", "min": 0.1},
        {"nutrient": "N", "min": 20.0},
    ]
    assert found.understood["most_stocks"] == 4
