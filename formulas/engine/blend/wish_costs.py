"""Each wish moved one usual step either way and answered again: what it really costs or saves.

A dual holds for a step so small that the recipe's stocks stay the same; these are whole answers.
One solver is kept for all: a moved limit restarts it from the recipe before. Where that leaves a
choice open (a tie, a rule, a number of stocks) the question is answered from the beginning, so
each blend is the one that the moved question gets by itself.

Two steps need no solver. A tighter wish that the blend meets all the same has no better answer.
And a looser one that the blend does not touch changes nothing, where that blend is the only
optimum of the linear program: its duals, 0 for that wish, prove it for the looser one as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from formulas.engine.blend.choices import choices_are_kept
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model, linear_model
from formulas.engine.blend.only_recipe import TIE_TOLERANCE, is_only_recipe
from formulas.engine.blend.optimise import clean_pct
from formulas.engine.blend.programs import Floats, Optimum
from formulas.engine.blend.solving import solve, verified_blend
from formulas.engine.blend.stock_table import in_stock_order, stock_table
from formulas.engine.blend.verify import verify
from formulas.engine.problem import BadProblem, BlendProblem, Per
from formulas.engine.result import Blend, EngineFailure, OutOfReach, Solved
from formulas.engine.validate import validate
from formulas.engine.wishes import (
    Side,
    WishId,
    WishKind,
    asked_of,
    relaxed_problem,
)
from formulas.engine.work.effort import MOST_UNITS, TooLarge, bounded_by

#: Steps a person would name (common practice, no source), in the wish's unit: a percent, or a
#: tenth below one percent; five points of the slow-release share; one stock; a dime.
_PERCENT: Final = 1.0
_SMALL_PERCENT: Final = 0.1
_SLOW_POINTS: Final = 5.0
_ONE_STOCK: Final = 1.0
_DIME: Final = 0.1
#: Beside an answer that is there already, this much more work.
_UNITS: Final = MOST_UNITS / 3
_DIGITS: Final = 10
#: Recipes of shares nearer than this are one, and a limit farther away (fraction, or percent of a
#: row) is not touched: far above the solver's tolerance, far below what is printed.
_SAME_PCT: Final = 1e-7
_CLEAR: Final = 1e-6


class StepStatus(StrEnum):
    """What became of a moved wish; ``too_large`` where finding out takes more work than it may."""

    SOLVED = "solved"
    OUT_OF_REACH = "out_of_reach"
    TOO_LARGE = "too_large"


@dataclass(frozen=True, slots=True)
class MovedWish:
    """The ``problem`` with one wish's figure moved by ``step``, and its blend if it has one."""

    wish: WishId
    step: float
    problem: BlendProblem
    status: StepStatus
    blend: Blend | None = None


@bounded_by(_UNITS)
def moved_wishes(
    problem: BlendProblem, own: Blend, is_asked: Callable[[WishId], bool] = lambda _: True
) -> tuple[MovedWish, ...]:
    """Both steps of each soft wish of a problem that ``own`` answers; figures up, then down.

    ``is_asked`` picks wishes. A step that leaves no sensible question (below 0, a minimum above its
    own maximum) is left out. Once the work is used up the rest is ``too_large``.
    """
    again = _Again(problem, own)
    found, is_spent = [], False
    for wish in _soft_wishes(problem, again.model):
        if not is_asked(wish):
            continue
        for step, moved in _steps(problem, wish):
            answer: Solved | OutOfReach | None = None
            if not is_spent:
                try:
                    answer = again.answered(wish, moved, is_tighter=wish.at_least == (step > 0))
                except TooLarge:
                    is_spent = True
            found.append(_told(wish, step, moved, answer))
    return tuple(found)


def _told(
    wish: WishId, step: float, moved: BlendProblem, answer: Solved | OutOfReach | None
) -> MovedWish:
    if answer is None:
        return MovedWish(wish, step, moved, StepStatus.TOO_LARGE)
    if isinstance(answer, OutOfReach):
        return MovedWish(wish, step, moved, StepStatus.OUT_OF_REACH)
    return MovedWish(wish, step, moved, StepStatus.SOLVED, answer.blend)


def _soft_wishes(problem: BlendProblem, model: Model) -> Iterator[WishId]:
    for wish in model.wishes:
        if wish.is_soft:
            yield wish.id
    if problem.most_stocks is not None:
        yield WishId(WishKind.MOST_STOCKS, Side.MOST)


def _steps(problem: BlendProblem, wish: WishId) -> Iterator[tuple[float, BlendProblem]]:
    asked = asked_of(problem, wish)
    if asked is None:
        return
    size = _usual_step(wish, asked)
    for step in (size, -size):
        moved = relaxed_problem(problem, [(wish, round(asked + step, _DIGITS))])
        try:
            validate(moved)
        except BadProblem:
            continue
        yield step, moved


def _usual_step(wish: WishId, asked: float) -> float:
    if wish.kind is WishKind.MOST_STOCKS:
        return _ONE_STOCK
    if wish.kind is WishKind.COST_PER_GAL:
        return _DIME
    if wish.kind is WishKind.SLOW_RELEASE:
        return _SLOW_POINTS
    return _PERCENT if asked >= 1 else _SMALL_PERCENT


class _Again:
    """The neighbours of one problem, one solver for all of them."""

    def __init__(self, problem: BlendProblem, own: Blend) -> None:
        self._own, self._problem = own, problem
        pct = {share.code: share.pct for share in own.shares}
        self._own_pct = np.array([pct.get(stock.code, 0.0) for stock in problem.stocks])
        self._is_linear = (
            problem.strongest is None
            and problem.cheapest_per is Per.LB
            and problem.cost_ceiling is None
        )
        self.model = linear_model(problem)
        self._asked = {wish.id: wish for wish in self.model.wishes}
        self._session: Session | None = None
        self._rows: Floats = self.model.A  # those that the session holds
        self._proof: Optimum | None = None  # of the blend as the only optimum

    def answered(
        self, wish: WishId, moved: BlendProblem, *, is_tighter: bool
    ) -> Solved | OutOfReach:
        """What ``solve`` answers, without reasons."""
        if is_tighter and self._own_meets(moved):
            return Solved(self._own)
        if not self._is_linear:
            return solve(moved, explain=False)
        session = self._begun()
        if not is_tighter and self._is_untouched(wish):
            return Solved(self._own)
        model = self._moved_model(wish, moved)
        limits = model.limits()
        self._take_rows_of(session, model)
        session.set_limits(limits)
        optimum = session.run()
        if optimum is None:
            return OutOfReach((), (), ())  # choices only narrow it further
        pct = clean_pct(optimum.x)
        if not is_only_recipe(session, limits, optimum) or not choices_are_kept(
            moved, model.stocks, pct
        ):
            return solve(moved, explain=False)
        return Solved(verified_blend(moved, in_stock_order(moved.stocks, pct)))

    def _begun(self) -> Session:
        """The solver at the blend itself, if it is an optimum of the linear program."""
        if self._session is None:
            limits = self.model.limits()
            self._session = Session(self.model.program(limits))
            optimum = self._session.run()
            if optimum is not None and is_only_recipe(self._session, limits, optimum):
                pct = in_stock_order(self._problem.stocks, clean_pct(optimum.x))
                if np.abs(pct - self._own_pct).max() < _SAME_PCT:
                    self._proof = optimum
        return self._session

    def _is_untouched(self, wish: WishId) -> bool:
        """Whether the blend is proved the only optimum and stays clear of this wish's limit."""
        if self._proof is None:
            return False
        if wish.kind is WishKind.MOST_STOCKS:
            return True  # the program does without it
        (place,) = self._asked[wish].places
        x, dual = self._proof.x, self._proof.row_dual if place.is_row else self._proof.col_dual
        reached = float(self.model.A[place.index] @ x) if place.is_row else float(x[place.index])
        clear = reached - place.value if wish.at_least else place.value - reached
        return clear > _CLEAR and abs(float(dual[place.index])) <= TIE_TOLERANCE

    def _own_meets(self, moved: BlendProblem) -> bool:
        try:
            verify(moved, stock_table(moved.stocks).contents, self._own_pct)
        except EngineFailure:
            return False
        return True

    def _moved_model(self, wish: WishId, moved: BlendProblem) -> Model:
        """The moved question's program; one whose figure is a limit differs in that alone."""
        if wish.kind not in (WishKind.NUTRIENT, WishKind.STOCK_LIMIT):
            return linear_model(moved)
        asked = asked_of(moved, wish)
        (place,) = self._asked[wish].places
        assert asked is not None  # noqa: S101 - it was moved to a figure
        value = asked if place.is_row else 0.01 * asked
        changed = replace(self._asked[wish], asked=asked, places=(replace(place, value=value),))
        wishes = tuple(changed if each.id == wish else each for each in self.model.wishes)
        return replace(self.model, wishes=wishes)

    def _take_rows_of(self, session: Session, model: Model) -> None:
        if model.A is not self._rows:
            for row in np.flatnonzero((self._rows != model.A).any(axis=1)).tolist():
                session.set_row(row, model.A[row])
            self._rows = model.A
