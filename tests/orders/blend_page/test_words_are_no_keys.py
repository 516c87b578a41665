"""Another wording changes words and nothing else: no figure, field or panel hangs on a sentence."""

import re
from itertools import count
from typing import Any

import pytest

from blendshop.accounts.models import User
from formulas.wording import limits
from orders.blend_page import page_wish, wording
from orders.blend_page.page_state import state_of
from tests.orders.blend_page.blend_page_cases import OUT_OF_REACH, WISH, form_from

CASES = {
    "solved": WISH | {"limit_code_0": "UAN", "limit_max_0": "40", "most_stocks": "4"},
    "out of reach": OUT_OF_REACH | {"limit_code_0": "KAC", "limit_max_0": "3"},
    "with a margin": WISH | {"margin": "on", "margin_chance": "1"},
    "margin out of reach": {"N_min": "31.9", "margin": "on", "margin_chance": "1"},
    "recipe": {"mode": "recipe", "recipe_code_0": "UAN", "recipe_pct_0": "90", "slow_min": "40"},
    "law": WISH | {"law_state": "MD", "legal": "on", "n_rate": "0.9", "slow_min": ""},
    "law out of reach": {"law_state": "MD", "legal": "on", "n_rate": "0.9", "N_min": "31.9"},
}
WORDS = {"wish", "conflict", "words"}


def nonsense(monkeypatch: pytest.MonkeyPatch) -> None:
    numbers = count()
    monkeypatch.setattr(limits, "limit_words", lambda *_: f"gibberish {next(numbers)}")
    monkeypatch.setattr(page_wish, "subject_words", lambda _: f"gibberish {next(numbers)}")
    monkeypatch.setattr(wording, "_BOUNDS", dict.fromkeys(wording._BOUNDS, "{subject} quack"))
    monkeypatch.setattr(wording, "_UNITS", dict.fromkeys(wording._UNITS, "{figure} moo"))


def without_words(value: Any) -> Any:
    """JSON without its sentences."""
    if isinstance(value, dict):
        return {key: without_words(part) for key, part in value.items() if key not in WORDS}
    if isinstance(value, list | tuple):
        return [without_words(part) for part in value]
    return value


def numbers_in(text: str) -> list[str]:
    return re.findall(r"\d+(?:\.\d+)?", text)


def seen(user: User, typed: dict[str, str]) -> dict[str, Any]:
    """Everything on the page but the words of wishes."""
    found = state_of(form_from(user, typed))
    assert found.formulation is not None
    told, prices = found.infeasibility, found.wish_prices()
    return {
        "status": found.status,
        "answer": without_words(found.formulation.answer.contract_json()),
        "conflict": None if told is None else len(told.conflict),
        "reach": told and [[numbers_in(x) for x in (row.asked, row.best)] for row in told.reach],
        "takes": told and [each.take for each in told.alternatives],
        "against law": told and [each.is_against_law for each in told.alternatives],
        "given up": told
        and [
            [[numbers_in(x) for x in (move.asked, move.to)] for move in each.relaxations]
            for each in told.alternatives
        ],
        "wish prices": [(row.per_gal, row.per_package) for row in (prices.rows if prices else ())],
        "margin": found.margin,
        "asked": [row.asked for row in found.analysis],
    }


@pytest.mark.parametrize("case", CASES)
def test_another_wording_changes_nothing_but_words(
    rep: User, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    before = seen(rep, CASES[case])
    nonsense(monkeypatch)
    assert seen(rep, CASES[case]) == before


def test_the_panels_that_were_found_by_words_are_filled(
    rep: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    nonsense(monkeypatch)
    solved = state_of(form_from(rep, CASES["solved"]))
    prices = solved.wish_prices()
    assert prices is not None
    assert "quack" in prices.rows[0].words
    found = state_of(form_from(rep, CASES["out of reach"]))
    assert found.infeasibility is not None
    assert all("quack" in row.words for row in found.infeasibility.reach)
    assert any(each.take for each in found.infeasibility.alternatives)
