"""Kinds of work that only tests know, and running what was begun in the test's own thread."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

import pytest

from blendshop.errors import BadInput
from blendshop.long_work import kinds
from blendshop.long_work.kinds import Assignment, Download, Kind, Outcome
from blendshop.roles import Role

#: Numbers of the parts that were begun, and the answers each combining got, in this process.
BEGUN: Final[list[int]] = []
COMBINED: Final[list[list[Any]]] = []


def square(assignment: Assignment, number: int) -> int:
    BEGUN.append(number)
    if assignment.arguments.get("refused") == number:
        raise BadInput("Line 3: the pounds are missing.")
    if assignment.arguments.get("stumbles") == number:
        raise ValueError("a stone on the way")
    return number * number


def add_up(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    COMBINED.append(list(answers))
    return Outcome(
        says=f"{sum(answers)} in all.",
        result={"sum": sum(answers)},
        download=Download("squares.csv", b"square\r\n"),
    )


def make_kind(**changes: Any) -> Kind:
    said: Mapping[str, Any] = {
        "name": "squares",
        "title": "Squares",
        "roles": frozenset({Role.OFFICE, Role.FORMULATOR}),
        "part": square,
        "combine": add_up,
    }
    return Kind(**{**said, **changes})


@pytest.fixture
def known_kind(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Kind]:
    """``known_kind(is_shared=True)`` is a kind that is registered for the test."""
    BEGUN.clear()
    COMBINED.clear()

    def made(**changes: Any) -> Kind:
        kind = make_kind(**changes)
        monkeypatch.setitem(kinds._KINDS, kind.name, kind)
        return kind

    return made
