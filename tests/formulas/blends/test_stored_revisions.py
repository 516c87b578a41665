"""Saved blends are read for ever: rows as they were stored before there were versions."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from blendshop.snapshot import SnapshotError
from formulas.answers.answer import SolvedAnswer
from formulas.answers.margin import MarginKept
from formulas.answers.wish import Wish
from tests.stored_json import holds

STORED = Path(__file__).with_name("revision_version_1.json")


@pytest.fixture
def stored() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(STORED.read_text())
    return found


def test_an_answer_without_a_version_is_read_with_every_figure(stored: dict[str, Any]) -> None:
    old = stored["answer"]
    answer = SolvedAnswer.from_json(old)
    assert answer.totals.cost_per_lb == Decimal(old["totals"]["cost_per_lb"])
    assert [line.cost for line in answer.recipe] == [Decimal(x["cost"]) for x in old["recipe"]]
    assert answer.analysis == old["analysis"]
    assert isinstance(answer.margin, MarginKept)
    assert answer.margin.guarantees[0].aim_pct == old["margin"]["guarantees"][0]["aim_pct"]
    assert [cost.wish for cost in answer.sensitivity] == [x["wish"] for x in old["sensitivity"]]
    assert {cost.field for cost in answer.sensitivity} == {None}


def test_what_was_read_is_written_in_todays_version_and_nothing_is_lost(
    stored: dict[str, Any],
) -> None:
    answer = SolvedAnswer.from_json(stored["answer"])
    written = json.loads(json.dumps(answer.to_json()))
    assert written.pop("version") == 2
    assert SolvedAnswer.from_json({"version": 2, **written}) == answer
    for cost in written["sensitivity"]:
        assert cost.pop("field") is None
    assert holds(written, stored["answer"])


def test_a_wish_without_a_version_is_read_as_it_was_sent(stored: dict[str, Any]) -> None:
    """Null stood for nothing, and 6.0 for the number 6."""
    wish = Wish.from_json(stored["wish"])
    assert wish.most_stocks == 6
    assert wish.exclude == ()
    assert wish.margin is not None
    assert wish.margin.chance == 0.01
    assert wish.targets[0].nutrient == "N"
    assert Wish.from_json(wish.to_json()) == wish
    assert "version" not in wish.contract_json()


def test_a_row_of_newer_code_is_refused_by_name(stored: dict[str, Any]) -> None:
    with pytest.raises(SnapshotError, match=r"SolvedAnswer\.version"):
        SolvedAnswer.from_json({**stored["answer"], "version": 99})
