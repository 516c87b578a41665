"""The formulation contract: one request, one answer, the same for command, API and page.

Request and answer are plain JSON values. Beside the keys of the contract a request may hold
``recipe`` (``[{"code", "pct"}]``: fixed shares of named stocks; complete and without any wish it
is only evaluated, otherwise the rest is solved around it), ``rules`` (compatibility rules
instead of the catalogue's) and ``margin`` (``margin_request``: minima hold in the batch as made,
with a chance; the answer then says how under ``margin``). With ``stocks`` in the request the
database is not read.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from blendshop.errors import DomainError
from formulas.contracts.formulation_answer import PLACES, answer_of
from formulas.contracts.formulation_request import Asked, needs_catalogue, read_request
from formulas.contracts.margin_answer import margin_answer, solved_with_margin
from formulas.contracts.spray_sheet import spray_sheet
from formulas.engine.blend.curve import slow_release_curve
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.blend.margin import MarginOutOfReach, MarginSolved, raised
from formulas.engine.blend.solving import solve
from formulas.engine.problem import BlendProblem
from formulas.engine.result import EngineFailure, OutOfReach, Solved
from formulas.engine_bridge import Catalogue, load_catalogue, unit_cost

__all__ = [
    "Formulation",
    "NoTrustworthyAnswer",
    "catalogue_for",
    "curve",
    "formulate",
    "spray_sheet",
]

SOLVED: Final = "solved"
OUT_OF_REACH: Final = "out_of_reach"
log = logging.getLogger(__name__)


class NoTrustworthyAnswer(DomainError):
    """The solver failed its own checks; no blend is shown."""

    code = "no_trustworthy_answer"
    status = 500


@dataclass(frozen=True, slots=True)
class Formulation:
    """A question and its answer: typed (``problem``, ``result``) and as JSON (``answer``)."""

    status: Literal["solved", "out_of_reach"]
    problem: BlendProblem
    result: Solved | OutOfReach
    answer: dict[str, Any]
    catalogue: Catalogue


def formulate(body: Any, *, catalogue: Catalogue | None) -> Formulation:
    """Answer a request. BadInput names every refused field; NoTrustworthyAnswer is a failure.

    ``catalogue`` offers the stocks and rules unless the request brings its own; it may be None
    only if it does (see ``catalogue_for``).
    """
    asked = read_request(body, catalogue)
    extra: dict[str, Any] = {}
    with _trusted():
        if asked.margin is None:
            result = _result(asked)
        else:
            found = solved_with_margin(asked.problem, asked.margin)
            extra, result = {"margin": margin_answer(found, asked.margin)}, found.answer
            asked = replace(asked, problem=_answered(asked.problem, found))
    return Formulation(
        status=SOLVED if isinstance(result, Solved) else OUT_OF_REACH,
        problem=asked.problem,
        result=result,
        answer=answer_of(asked, result) | extra,
        catalogue=asked.catalogue,
    )


def _answered(problem: BlendProblem, found: MarginSolved | MarginOutOfReach) -> BlendProblem:
    """The problem that a margin's answer speaks of: its minima are the aims."""
    if isinstance(found, MarginSolved):
        return raised(problem, {item.key: item.aim_pct for item in found.guarantees})
    return problem if found.without_margin is None else raised(problem, found.aims_pct)


@contextmanager
def _trusted() -> Iterator[None]:
    """Nothing is shown when the engine's own checks fail."""
    try:
        yield
    except EngineFailure as failure:
        log.exception("The engine gave no trustworthy answer")
        raise NoTrustworthyAnswer(
            "The solver gave no trustworthy answer to this wish; nothing is shown rather than "
            "something wrong. Change the wish a little, and please report it."
        ) from failure


def _result(asked: Asked) -> Solved | OutOfReach:
    if asked.recipe is None:
        return solve(asked.problem)
    problem = asked.problem
    return Solved(evaluate(problem.stocks, asked.recipe, problem.rules, problem.fill))


def curve(body: Any, *, catalogue: Catalogue | None, points: int = 21) -> dict[str, Any]:
    """Least cost per lb along the slow-release share, all other wishes kept.

    ``{"points": [{"slow_release_pct": 0.0, "cost_per_lb": "0.2101"}, ...]}``; no points when the
    other wishes cannot be met, there is no nitrogen, or a complete recipe leaves no choice.
    """
    asked = read_request(body, catalogue)
    with _trusted():
        found = () if asked.recipe is not None else slow_release_curve(asked.problem, points)
    return {
        "points": [
            {
                "slow_release_pct": round(point.slow_release_pct, PLACES),
                "cost_per_lb": str(unit_cost(point.cost_per_lb)),
            }
            for point in found
        ]
    }


def catalogue_for(body: Any, today: date) -> Catalogue | None:
    """The catalogue of a day if the request needs it; None (and no query) if it does not."""
    return load_catalogue(today) if needs_catalogue(body) else None
