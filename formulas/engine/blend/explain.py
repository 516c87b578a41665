"""Out of reach: which wishes conflict, how far each could go, and what can be had instead.

Conflict: deletion filtering. Each wish in turn is left out; if the rest is still impossible it
stays out. What remains is impossible, and leaving out any one of it makes it possible. Facts
of stocks and chemistry are tried first, so that the wishes a person can change are named only
as far as they matter, and the facts only when they do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.branch_and_bound import ChoiceSearch, SearchTooLarge
from formulas.engine.blend.choices import asked_choices, with_choices
from formulas.engine.blend.elastic import nearest_shares
from formulas.engine.blend.highs import Floats, Optimum, Session
from formulas.engine.blend.linear_program import Model, Wish, linear_model
from formulas.engine.blend.relaxation import rounded_to_feasible, wish_value
from formulas.engine.blend.slow_share import best_slow_release_pct
from formulas.engine.problem import BlendProblem
from formulas.engine.result import (
    Alternative,
    Blend,
    EngineFailure,
    OutOfReach,
    Reach,
    Relaxed,
    Solved,
)
from formulas.engine.wishes import WishKind, relaxed_problem

#: Whoever reads the answer wants a choice, not a catalogue.
MOST_ALTERNATIVES: Final = 3
_ENOUGH_ALTERNATIVES: Final = 2
#: The order in which wishes are tried for leaving out.
_TRIED_FIRST: Final = (
    WishKind.OWN_LIMIT,
    WishKind.LEFT_OUT,
    WishKind.SMALLEST_CHARGE,
    WishKind.RULE,
    WishKind.MOST_STOCKS,
    WishKind.STOCK_LIMIT,
    WishKind.SLOW_RELEASE,
    WishKind.NUTRIENT,
)
#: Reach is given to so many significant digits, rounded so that it can really be had.
REACH_DIGITS: Final = 6
#: An alternative's wish is as round as a person would ask for: 24.9 for 28, 0.033 for 0.05.
ALTERNATIVE_DIGITS: Final = 3

SolveAgain = Callable[[BlendProblem], Solved | OutOfReach]


class _Prober:
    """One model asked about different selections of its wishes."""

    def __init__(self, problem: BlendProblem, plain: Model, model: Model) -> None:
        self.model = model
        self._problem = problem
        self._plain = plain
        self._session: Session | None = None
        self._search: ChoiceSearch | None = None
        self._is_large = False

    def is_possible(self, wishes: Iterable[Wish]) -> bool:
        return self.best(wishes, np.zeros_like(self.model.cost)) is not None

    def best(self, wishes: Iterable[Wish], cost: Floats) -> Optimum | None:
        """The recipe of least ``cost`` that meets ``wishes``; only its shares are meant."""
        wishes = tuple(wishes)
        n = len(self.model.stocks)
        if self.model.binary_column and not self._is_large and not cost[n:].any():
            if self._search is None:
                self._search = ChoiceSearch(self._problem, self._plain)
            linear = [wish for wish in wishes if wish in self._plain.wishes]
            asked = asked_choices(self._problem, wishes)
            try:
                return self._search.best(asked, self._search.model.limits(linear), cost[:n])
            except SearchTooLarge:
                self._is_large = True
        if self._session is None:
            self._session = Session(self.model.program(self.model.limits()))
        self._session.set_limits(self.model.limits(wishes))
        self._session.set_cost(cost)
        return self._session.run()


def explain_out_of_reach(problem: BlendProblem, solve_again: SolveAgain) -> OutOfReach:
    """Why a valid problem has no recipe, and what instead.

    ``solve_again`` answers a neighbouring problem without explaining; alternatives are
    therefore complete, verified blends.
    """
    prober = _prober(problem)
    conflict = _smallest_conflict(prober)
    # With the choices even where the linear wishes alone conflict: what can be had obeys them.
    full = prober.model if prober.model.binary_column else with_choices(prober.model, problem)
    best = _best_values(problem, prober, full, conflict, solve_again)
    reach = tuple(
        Reach(wish.id, wish.asked, best[wish].reached if wish in best else None)
        for wish in full.wishes
        if wish.is_soft and wish.asked is not None
    )
    return OutOfReach(
        conflict=tuple(wish.id for wish in conflict),
        reach=reach,
        alternatives=_alternatives(problem, full, best, solve_again),
    )


def _prober(problem: BlendProblem) -> _Prober:
    """On the linear program if that is already impossible, else with the choices as well."""
    plain = linear_model(problem)
    prober = _Prober(problem, plain, plain)
    if not prober.is_possible(plain.wishes):
        return prober
    prober = _Prober(problem, plain, with_choices(plain, problem))
    if prober.is_possible(prober.model.wishes):
        raise EngineFailure("The solver calls the same question both possible and impossible.")
    return prober


def _smallest_conflict(prober: _Prober) -> tuple[Wish, ...]:
    kept = list(prober.model.wishes)
    for kind in _TRIED_FIRST:
        group = [wish for wish in kept if wish.kind is kind]
        without = [wish for wish in kept if wish.kind is not kind]
        if not group:
            continue
        if not prober.is_possible(without):
            kept = without
            continue
        for wish in group:
            fewer = [other for other in kept if other is not wish]
            if not prober.is_possible(fewer):
                kept = fewer
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Best:
    """The best value of a wish while all others hold: as found, and as it can be had."""

    found: float
    reached: float


def _best_values(
    problem: BlendProblem,
    prober: _Prober,
    full: Model,
    conflict: Sequence[Wish],
    solve_again: SolveAgain,
) -> dict[Wish, _Best]:
    """For each soft wish of the conflict that alone stands in the way.

    A wish outside the conflict has no best value: the conflict remains whatever it is. Whether
    a value can be had is not left to a tolerance: the question is really solved at it.
    """
    best: dict[Wish, _Best] = {}
    probers = [prober]
    for wish in conflict:
        if not wish.is_soft:
            continue
        for attempt in range(2):
            if attempt == len(probers):
                # The linear best breaks a rule; look for the best that does not.
                if full is prober.model:
                    break
                probers.append(_Prober(problem, prober.model, full))
            found = _best_value(probers[attempt], wish)
            if found is None:
                break
            moved = _moved_within_reach(problem, wish, found, found, REACH_DIGITS, solve_again)
            if moved is not None:
                best[wish] = _Best(found, moved[0])
                break
    return best


def _best_value(prober: _Prober, wish: Wish) -> float | None:
    model = prober.model
    others = [other for other in model.wishes if other is not wish]
    if wish.kind is WishKind.SLOW_RELEASE:
        return best_slow_release_pct(
            lambda cost: prober.best(others, cost), model, highest=wish.at_least
        )
    (place,) = wish.places
    row = model.A[place.index] if place.is_row else np.eye(1, len(model.cost), place.index)[0]
    optimum = prober.best(others, -row if wish.at_least else row)
    if optimum is None:
        return None
    value = -optimum.objective if wish.at_least else optimum.objective
    per_unit = 0.01 if wish.kind is WishKind.STOCK_LIMIT else 1.0
    return max(0.0, value / per_unit)


def _alternatives(
    problem: BlendProblem, full: Model, best: Mapping[Wish, _Best], solve_again: SolveAgain
) -> tuple[Alternative, ...]:
    found: list[tuple[float, Alternative]] = []
    for wish, value in best.items():
        scale = max(wish.asked or 0.0, value.found)
        moved = _moved_within_reach(
            problem, wish, value.found, scale, ALTERNATIVE_DIGITS, solve_again
        )
        if moved is not None:
            to, blend = moved
            alternative = Alternative((Relaxed(wish.id, to),), blend)
            found.append((_given_up(wish, to), alternative))
    found.sort(key=lambda pair: pair[0])
    alternatives = [alternative for _, alternative in found[:MOST_ALTERNATIVES]]
    if len(alternatives) < _ENOUGH_ALTERNATIVES:
        alternatives += _shared_alternatives(problem, full, alternatives, solve_again)
    return tuple(alternatives[:MOST_ALTERNATIVES])


def _moved_within_reach(
    problem: BlendProblem,
    wish: Wish,
    best: float,
    scale: float,
    digits: int,
    solve_again: SolveAgain,
) -> tuple[float, Blend] | None:
    """The roundest value just within reach and the blend at that value."""
    for steps_back in (0, 1, 2):
        to = rounded_to_feasible(
            best, at_least=wish.at_least, scale=scale, digits=digits, steps_back=steps_back
        )
        answer = solve_again(relaxed_problem(problem, [(wish.id, to)]))
        if isinstance(answer, Solved):
            return to, answer.blend
    return None


def _given_up(wish: Wish, to: float) -> float:
    """How much of a wish is given up, as a fraction of what was asked."""
    asked = wish.asked or 0.0
    return abs(to - asked) / max(abs(asked), abs(to), 1e-12)


def _shared_alternatives(
    problem: BlendProblem,
    model: Model,
    known: Sequence[Alternative],
    solve_again: SolveAgain,
) -> list[Alternative]:
    """Several wishes giving way together: as little as possible in all, then evenly."""
    found: list[Alternative] = []
    seen = {alternative.relaxed for alternative in known}
    for evenly in (False, True):
        shares = nearest_shares(model, evenly=evenly)
        if shares is None:
            return found
        moves = list(_moves(model, shares))
        relaxed = tuple(Relaxed(wish.id, to) for wish, to in moves)
        if not moves or relaxed in seen:
            continue
        seen.add(relaxed)
        answer = solve_again(relaxed_problem(problem, [(wish.id, to) for wish, to in moves]))
        if isinstance(answer, Solved):
            found.append(Alternative(relaxed, answer.blend))
    return found


def _moves(model: Model, shares: Floats) -> Iterable[tuple[Wish, float]]:
    """Wishes that a recipe does not meet, each with the round value that it does meet."""
    for wish in model.wishes:
        if not wish.is_soft or wish.asked is None:
            continue
        value = wish_value(model, wish, shares)
        missed = wish.asked - value if wish.at_least else value - wish.asked
        if missed > 1e-7 * max(wish.asked, 1e-3) and math.isfinite(value):
            to = rounded_to_feasible(
                value,
                at_least=wish.at_least,
                scale=max(wish.asked, value),
                digits=ALTERNATIVE_DIGITS,
            )
            yield wish, to
