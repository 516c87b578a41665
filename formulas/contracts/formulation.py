"""The formulation contract: one request, one answer, the same for command, API and page.

A request is plain JSON, its answer a typed value whose JSON is the contract's. Beside the keys
of the contract a request may hold ``recipe`` (``[{"code", "pct"}]``: fixed shares of named
stocks; complete and without any wish it is only evaluated, otherwise the rest is solved around
it), ``rules`` (compatibility rules instead of the catalogue's) and ``margin``
(``margin_request``: minima hold in the batch as made, with a chance; the answer then says how
under ``margin``). With ``stocks`` in the request the database is not read.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

from blendshop.errors import DomainError
from blendshop.monitoring.metrics import SOLVE_SECONDS
from formulas.answers.answer import Answer, SolvedAnswer
from formulas.contracts.deadline import decided
from formulas.contracts.formulation_answer import PLACES, answer_of
from formulas.contracts.formulation_request import ParsedRequest, needs_catalogue, read_request
from formulas.contracts.margin_answer import margin_answer, solved_with_margin
from formulas.contracts.spray_sheet import spray_sheet
from formulas.engine.blend.curve import slow_release_curve
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.blend.margin import MarginOutOfReach, MarginSolved, raised
from formulas.engine.blend.solving import solve
from formulas.engine.problem import BlendProblem
from formulas.engine.result import Blend, EngineFailure, OutOfReach, Solved
from formulas.engine_bridge import Catalogue, load_catalogue, unit_cost

__all__ = [
    "Formulation",
    "NoTrustworthyAnswer",
    "catalogue_for",
    "curve",
    "formulate",
    "spray_sheet",
    "trusted",
]

log = logging.getLogger(__name__)


class NoTrustworthyAnswer(DomainError):
    """The solver failed its own checks; no blend is shown."""

    code = "no_trustworthy_answer"
    status = 500


@dataclass(frozen=True, slots=True)
class Solution:
    """A solved answer with the engine's own, unrounded blend behind it."""

    answer: SolvedAnswer
    blend: Blend
    catalogue: Catalogue


@dataclass(frozen=True, slots=True)
class Formulation:
    """A question and its answer.

    ``answer`` is what is shown, stored and sent. ``blends`` are the engine's own, unrounded, for
    what is computed further from them: the blend of a solved answer, or those of the
    alternatives in their order. ``problem`` is what the answer speaks of, ``request`` what was
    read.
    """

    request: ParsedRequest
    problem: BlendProblem
    catalogue: Catalogue
    answer: Answer
    blends: tuple[Blend, ...]

    @property
    def solution(self) -> Solution | None:
        """The answer with its blend, None while out of reach."""
        if not isinstance(self.answer, SolvedAnswer):
            return None
        return Solution(self.answer, self.blends[0], self.catalogue)

    @property
    def blend(self) -> Blend | None:
        """The unrounded blend, None while out of reach."""
        return self.blends[0] if isinstance(self.answer, SolvedAnswer) else None


def formulate(body: Any, *, catalogue: Catalogue | None) -> Formulation:
    """Answer a request. BadInput names every refused field; NoTrustworthyAnswer is a failure.

    TooLargeToDecide where the answer takes more work than one question may.

    ``catalogue`` offers the stocks and rules unless the request brings its own; it may be None
    only if it does (see ``catalogue_for``).
    """
    request = read_request(body, catalogue)
    problem, margin = request.problem, None
    with trusted():
        if request.margin is None:
            result = _result(request)
        else:
            found = solved_with_margin(problem, request.margin)
            margin, result = margin_answer(found, request.margin), found.answer
            problem = _answered(problem, found)
    return Formulation(
        request=request,
        problem=problem,
        catalogue=request.catalogue,
        answer=answer_of(request, problem, result, margin),
        blends=(
            (result.blend,)
            if isinstance(result, Solved)
            else tuple(each.blend for each in result.alternatives)
        ),
    )


def _answered(problem: BlendProblem, found: MarginSolved | MarginOutOfReach) -> BlendProblem:
    """The problem that a margin's answer speaks of: its minima are the aims."""
    if isinstance(found, MarginSolved):
        return raised(problem, {item.key: item.aim_pct for item in found.guarantees})
    return problem if found.without_margin is None else raised(problem, found.aims_pct)


@contextmanager
def trusted() -> Iterator[None]:
    """Nothing is shown when the engine's own checks fail, or it would take too much work.

    How long it took is counted.
    """
    try:
        with SOLVE_SECONDS.time(), decided():
            yield
    except EngineFailure as failure:
        log.exception("The engine gave no trustworthy answer")
        raise NoTrustworthyAnswer(
            "The solver gave no trustworthy answer to this wish; nothing is shown rather than "
            "something wrong. Change the wish a little, and please report it."
        ) from failure


def _result(request: ParsedRequest) -> Solved | OutOfReach:
    problem = request.problem
    if request.recipe is None:
        return solve(problem)
    return Solved(evaluate(problem.stocks, request.recipe, problem.rules, problem.fill))


def curve(body: Any, *, catalogue: Catalogue | None, points: int = 21) -> dict[str, Any]:
    """Least cost per lb along the slow-release share, all other wishes kept.

    ``{"points": [{"slow_release_pct": 0.0, "cost_per_lb": "0.2101"}, ...]}``; no points when the
    other wishes cannot be met, there is no nitrogen, or a complete recipe leaves no choice.
    """
    request = read_request(body, catalogue)
    with trusted():
        found = () if request.recipe is not None else slow_release_curve(request.problem, points)
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
