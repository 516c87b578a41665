"""The formulation contract: one request, one answer, the same for command, API and page.

Request and answer are plain JSON values. Beside the keys of the contract a request may hold
``recipe`` (``[{"code", "pct"}]``: fixed shares of named stocks; complete and without any wish it
is only evaluated, otherwise the rest is solved around it) and ``rules`` (compatibility rules
instead of the catalogue's). With ``stocks`` in the request the database is not read.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

from blendshop.errors import DomainError
from formulas.engine.evaluate import evaluate
from formulas.engine.problem import BlendProblem
from formulas.engine.result import EngineFailure, OutOfReach, Solved
from formulas.engine.solve import solve
from formulas.engine_bridge import Catalogue, load_catalogue
from formulas.formulation_answer import answer_of
from formulas.formulation_request import Asked, needs_catalogue, read_request

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


def formulate(body: Mapping[str, Any], *, catalogue: Catalogue | None) -> Formulation:
    """Answer a request. BadInput names every refused field; NoTrustworthyAnswer is a failure.

    ``catalogue`` offers the stocks and rules unless the request brings its own; it may be None
    only if it does (see ``catalogue_for``).
    """
    asked = read_request(body, catalogue)
    try:
        result = _result(asked)
    except EngineFailure as failure:
        log.exception("The engine gave no trustworthy answer")
        raise NoTrustworthyAnswer(
            "The solver gave no trustworthy answer to this wish; nothing is shown rather than "
            "something wrong. Change the wish a little, and please report it."
        ) from failure
    return Formulation(
        status=SOLVED if isinstance(result, Solved) else OUT_OF_REACH,
        problem=asked.problem,
        result=result,
        answer=answer_of(asked, result),
        catalogue=asked.catalogue,
    )


def _result(asked: Asked) -> Solved | OutOfReach:
    if asked.recipe is None:
        return solve(asked.problem)
    problem = asked.problem
    return Solved(evaluate(problem.stocks, asked.recipe, problem.rules, problem.fill))


def catalogue_for(body: Any, today: date) -> Catalogue | None:
    """The catalogue of a day if the request needs it; None (and no query) if it does not."""
    return load_catalogue(today) if needs_catalogue(body) else None
