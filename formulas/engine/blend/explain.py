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

from formulas.engine.blend.branch_and_bound import SearchTooLarge
from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.elastic import nearest_shares
from formulas.engine.blend.linear_program import Model, Wish, linear_model
from formulas.engine.blend.optimise import clean_pct
from formulas.engine.blend.prober import Prober
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.relaxation import rounded_to_feasible, wish_value
from formulas.engine.blend.slow_share import best_slow_release_pct
from formulas.engine.blend.stock_table import stock_table
from formulas.engine.blend.supports import Rays
from formulas.engine.blend.verify import verify
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


def explain_out_of_reach(
    problem: BlendProblem, solve_again: SolveAgain, rays: Rays | None = None
) -> OutOfReach:
    """Why a valid problem has no recipe, and what instead.

    ``solve_again`` answers a neighbouring problem without explaining; alternatives are
    therefore complete, verified blends. ``rays`` is what finding out has proved so far.
    """
    prober = _prober(problem, rays)
    conflict = _smallest_conflict(prober)
    # With the choices even where the linear wishes alone conflict: what can be had obeys them.
    full = prober.model if prober.model.binary_column else with_choices(prober.model, problem)
    best = _best_values(problem, prober, full, conflict, solve_again, rays)
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


def _prober(problem: BlendProblem, rays: Rays | None) -> Prober:
    """On the linear program if that is already impossible, else with the choices as well."""
    plain = linear_model(problem)
    prober = Prober(problem, plain, plain, rays)
    if not prober.is_possible(plain.wishes):
        return prober
    prober = Prober(problem, plain, with_choices(plain, problem), rays)
    if prober.is_possible(prober.model.wishes):
        raise EngineFailure("The solver calls the same question both possible and impossible.")
    return prober


def _smallest_conflict(prober: Prober) -> tuple[Wish, ...]:
    kept = list(prober.model.wishes)
    for kind in _TRIED_FIRST:
        group = [wish for wish in kept if wish.kind is kind]
        without = [wish for wish in kept if wish.kind is not kind]
        if not group:
            continue
        if not prober.is_possible(without):
            kept = without
            continue
        if len(group) == 1:
            continue  # what was just tried
        for wish in group:
            fewer = [other for other in kept if other is not wish]
            if not prober.is_possible(fewer):
                kept = fewer
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Best:
    """The best value of a wish while all others hold: as found, and as it can be had.

    ``pct`` is the recipe with that value, in the order of the problem's stocks, if it is known.
    """

    found: float
    reached: float
    pct: Floats | None


def _best_values(
    problem: BlendProblem,
    prober: Prober,
    full: Model,
    conflict: Sequence[Wish],
    solve_again: SolveAgain,
    rays: Rays | None,
) -> dict[Wish, _Best]:
    """For each soft wish of the conflict that alone stands in the way.

    A wish outside the conflict has no best value: the conflict remains whatever it is. Whether
    a value can be had is not left to the solver: a recipe is verified against the question at
    it, the best one's own or, failing that, the one that answers the question.
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
                probers.append(Prober(problem, prober.model, full, rays))
            value = _best_value(probers[attempt], wish)
            if value is None:
                break
            found, shares = value
            pct = None if shares is None else _in_stock_order(problem, shares)
            to = _reached(problem, wish, pct, found, found, REACH_DIGITS)
            if to is None:
                moved = _moved_within_reach(problem, wish, found, found, REACH_DIGITS, solve_again)
                to = None if moved is None else moved[0]
            if to is not None:
                best[wish] = _Best(found, to, pct)
                break
    return best


def _best_value(prober: Prober, wish: Wish) -> tuple[float, Floats | None] | None:
    """The best figure, and shares (fractions, one a stock) that have it, if those are known."""
    model = prober.model
    others = [other for other in model.wishes if other is not wish]
    if wish.kind is WishKind.SLOW_RELEASE:
        share = best_slow_release_pct(
            lambda cost: prober.best(others, cost), model, highest=wish.at_least
        )
        return None if share is None else (share, None)
    if wish.kind is WishKind.MOST_STOCKS:
        try:
            fewest = prober.fewest_stocks(others, round(wish.asked or 0.0))
        except SearchTooLarge:
            pass  # the general search counts them
        else:
            return None if fewest is None else (float(fewest), None)
    (place,) = wish.places
    row = model.A[place.index] if place.is_row else np.eye(1, len(model.cost), place.index)[0]
    optimum = prober.best(others, -row if wish.at_least else row)
    if optimum is None:
        return None
    value = -optimum.objective if wish.at_least else optimum.objective
    per_unit = 0.01 if wish.kind is WishKind.STOCK_LIMIT else 1.0
    return max(0.0, value / per_unit), optimum.x[: len(model.stocks)]


def _alternatives(
    problem: BlendProblem, full: Model, best: Mapping[Wish, _Best], solve_again: SolveAgain
) -> tuple[Alternative, ...]:
    offered: list[tuple[float, Wish, float, Blend | None]] = []
    for wish, value in best.items():
        scale = max(wish.asked or 0.0, value.found)
        to = _reached(problem, wish, value.pct, value.found, scale, ALTERNATIVE_DIGITS)
        blend = None
        if to is None:
            moved = _moved_within_reach(
                problem, wish, value.found, scale, ALTERNATIVE_DIGITS, solve_again
            )
            if moved is None:
                continue
            to, blend = moved
        offered.append((_given_up(wish, to), wish, to, blend))
    offered.sort(key=lambda offer: offer[0])
    alternatives: list[Alternative] = []
    for _, wish, to, blend in offered:
        if len(alternatives) == MOST_ALTERNATIVES:
            break
        if blend is None:
            answer = solve_again(relaxed_problem(problem, [(wish.id, to)]))
            blend = answer.blend if isinstance(answer, Solved) else None
        if blend is not None:
            alternatives.append(Alternative((Relaxed(wish.id, to),), blend))
    if len(alternatives) < _ENOUGH_ALTERNATIVES:
        alternatives += _shared_alternatives(problem, full, alternatives, solve_again)
    return tuple(alternatives[:MOST_ALTERNATIVES])


def _reached(
    problem: BlendProblem, wish: Wish, pct: Floats | None, best: float, scale: float, digits: int
) -> float | None:
    """The roundest value just within reach, None if ``pct`` does not show that it is."""
    if pct is None:
        return None
    to = rounded_to_feasible(best, at_least=wish.at_least, scale=scale, digits=digits)
    try:
        verify(relaxed_problem(problem, [(wish.id, to)]), stock_table(problem.stocks).contents, pct)
    except EngineFailure:
        return None
    return to


def _in_stock_order(problem: BlendProblem, shares: Floats) -> Floats:
    """Percent in the problem's order of stocks from fractions in the order of the codes."""
    pct = np.empty(len(shares))
    pct[stock_table(problem.stocks).by_code] = clean_pct(shares)
    return pct


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
