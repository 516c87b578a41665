"""Out of reach: which wishes conflict, how far each could go, and what can be had instead.

Conflict: deletion filtering. Each wish in turn is left out; if the rest is still impossible it
stays out. What remains is impossible, and leaving out any one of it makes it possible. Facts
of stocks and chemistry are tried first, so that the wishes a person can change are named only
as far as they matter, and the facts only when they do. Where the number of stocks is limited each
try is a search, so a wish's best value while all others hold is asked first: a recipe that has one
shows that the wish stays in, and is wanted of every wish that does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from formulas.engine.blend.branch_and_bound import SearchTooLarge
from formulas.engine.blend.choices import choices_are_kept, with_choices
from formulas.engine.blend.cost_ceiling import (
    can_be_kept,
    drawn_at,
    drawn_impossible,
    is_off,
    least_cost_per_gal,
)
from formulas.engine.blend.elastic import nearest_shares
from formulas.engine.blend.linear_program import Model, Wish, linear_model
from formulas.engine.blend.optimise import clean_pct
from formulas.engine.blend.prober import Prober
from formulas.engine.blend.programs import Floats, Optimum
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.relaxation import rounded_to_feasible, wish_value
from formulas.engine.blend.slow_share import best_slow_release_pct
from formulas.engine.blend.stock_table import in_stock_order, stock_table
from formulas.engine.blend.verify import verify
from formulas.engine.problem import COST_PLACES, BlendProblem
from formulas.engine.result import (
    Alternative,
    Blend,
    EngineFailure,
    OutOfReach,
    Reach,
    Relaxed,
)
from formulas.engine.wishes import WishId, WishKind, relaxed_problem

#: One for each wish of a conflict that can give way by itself, as far as that still is a choice and
#: no catalogue; each is a solution of its own, counted with the work of the question.
MOST_ALTERNATIVES: Final = 6
_ENOUGH_ALTERNATIVES: Final = 2
#: The order in which wishes are tried for leaving out.
_TRIED_FIRST: Final = (
    WishKind.OWN_LIMIT,
    WishKind.LEFT_OUT,
    WishKind.SMALLEST_CHARGE,
    WishKind.RULE,
    WishKind.COST_PER_GAL,
    WishKind.MOST_STOCKS,
    WishKind.STOCK_LIMIT,
    WishKind.SLOW_RELEASE,
    WishKind.NUTRIENT,
)
#: Reach is given to so many significant digits, rounded so that it can really be had.
REACH_DIGITS: Final = 6
#: An alternative's wish is as round as a person would ask for: 24.9 for 28, 0.033 for 0.05.
ALTERNATIVE_DIGITS: Final = 3

#: Rounds in which the row of a cost ceiling follows the recipe of a best value.
_CEILING_ROUNDS: Final = 1

Moves = Sequence[tuple[WishId, float]]
#: The blend of the question with wishes moved, None where there is none.
SolveAgain = Callable[[Moves], Blend | None]


def explain_out_of_reach(
    problem: BlendProblem,
    blend_for: Callable[[BlendProblem], Blend | None],
    proved: Proved | None = None,
) -> OutOfReach:
    """Why a valid problem has no recipe, and what instead.

    ``blend_for`` answers a neighbouring problem without explaining; alternatives are
    therefore complete, verified blends. ``proved`` is what finding out has proved so far.
    """
    problem = drawn_impossible(problem, proved)
    solve_again = _once_each(problem, blend_for)
    prober = _prober(problem, proved)
    conflict = _smallest_conflict(problem, prober)
    # With the choices even where the linear wishes alone conflict: what can be had obeys them.
    full = prober.model if prober.model.binary_column else with_choices(prober.model, problem)
    best = _best_values(problem, prober, full, conflict, solve_again, proved)
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


def _once_each(
    problem: BlendProblem, blend_for: Callable[[BlendProblem], Blend | None]
) -> SolveAgain:
    """A value that can be had and the alternative that offers it are often the same question."""

    @cache
    def answered(moves: tuple[tuple[WishId, float], ...]) -> Blend | None:
        return blend_for(relaxed_problem(problem, moves))

    return lambda moves: answered(tuple(moves))


def _prober(problem: BlendProblem, proved: Proved | None) -> Prober:
    """On the linear program if that is already impossible, else with the choices as well."""
    plain = linear_model(problem)
    prober = Prober(problem, plain, plain, proved)
    if not prober.is_possible(plain.wishes):
        return prober
    prober = Prober(problem, plain, with_choices(plain, problem), proved)
    if prober.is_possible(prober.model.wishes):
        raise EngineFailure("The solver calls the same question both possible and impossible.")
    return prober


def _is_possible(problem: BlendProblem, prober: Prober, wishes: Sequence[Wish]) -> bool:
    if prober.is_possible(wishes):
        return True
    others = [wish for wish in wishes if wish.kind is not WishKind.COST_PER_GAL]
    if len(others) == len(wishes):
        return False
    # Its row is drawn at one recipe, which need not be the cheapest gallon of this selection.
    return can_be_kept(problem, prober.model, lambda cost: prober.best(others, cost))


def _smallest_conflict(problem: BlendProblem, prober: Prober) -> tuple[Wish, ...]:
    kept = list(prober.model.wishes)
    for kind in _TRIED_FIRST:
        group = [wish for wish in kept if wish.kind is kind]
        without = [wish for wish in kept if wish.kind is not kind]
        if not group:
            continue
        if not _is_possible(problem, prober, without):
            kept = without
            continue
        if len(group) == 1:
            continue  # what was just tried
        for wish in group:
            can_all_others = _all_others_hold(problem, prober, wish)
            if can_all_others:
                continue
            is_known = can_all_others is False and len(kept) == len(prober.model.wishes)
            fewer = [other for other in kept if other is not wish]
            if is_known or not _is_possible(problem, prober, fewer):
                kept = fewer
    return tuple(kept)


def _all_others_hold(problem: BlendProblem, prober: Prober, wish: Wish) -> bool | None:
    """Whether all other wishes hold in some recipe; None where it is not asked.

    Asked only where finding the best such recipe takes little more than finding any. A ceiling's
    row is drawn anew for each selection, so beside one nothing is learnt.
    """
    if (
        wish.kind in (WishKind.NUTRIENT, WishKind.STOCK_LIMIT)
        and problem.cost_ceiling is None
        and prober.looks_at_all_choices
    ):
        return _furthest(prober, wish) is not None
    return None


def _furthest(prober: Prober, wish: Wish) -> Optimum | None:
    """The recipe that goes furthest in a wish with a row or column of its own, all others kept."""
    (place,) = wish.places
    model = prober.model
    row = model.A[place.index] if place.is_row else np.eye(1, len(model.cost), place.index)[0]
    return prober.best_without(wish, -row if wish.at_least else row)


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
    proved: Proved | None,
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
                probers.append(Prober(problem, prober.model, full, proved))
            value = _best_value(problem, probers[attempt], wish, proved)
            if value is None:
                break
            if probers[attempt].model is not full and _breaks_a_choice(problem, value[1]):
                continue
            had = _as_can_be_had(problem, wish, value, solve_again)
            if had is not None:
                best[wish] = _settled(problem, probers[attempt], wish, had, solve_again, proved)
                break
    return best


def _breaks_a_choice(problem: BlendProblem, shares: Floats | None) -> bool:
    """Whether a recipe beside a cost ceiling is not worth asking around for: it breaks a choice."""
    if problem.cost_ceiling is None or shares is None:
        return False
    pct = in_stock_order(problem.stocks, clean_pct(shares))
    return not choices_are_kept(problem, problem.stocks, pct)


def _as_can_be_had(
    problem: BlendProblem,
    wish: Wish,
    value: tuple[float, Floats | None],
    solve_again: SolveAgain,
) -> _Best | None:
    found, shares = value
    pct = None if shares is None else in_stock_order(problem.stocks, clean_pct(shares))
    to = _reached(problem, wish, pct, found, found, REACH_DIGITS)
    if to is None:
        moved = _moved_within_reach(problem, wish, found, found, REACH_DIGITS, solve_again)
        if moved is None:
            return None
        to = moved[0]
        if problem.cost_ceiling is not None:
            of = {share.code: share.pct for share in moved[1].shares}
            pct = np.array([of.get(stock.code, 0.0) for stock in problem.stocks])
    return _Best(found, to, pct)


def _settled(
    problem: BlendProblem,
    prober: Prober,
    wish: Wish,
    had: _Best,
    solve_again: SolveAgain,
    proved: Proved | None,
) -> _Best:
    """A best value beside a cost ceiling, whose row is drawn again at the recipe that has it."""
    if problem.cost_ceiling is None or wish.kind is WishKind.COST_PER_GAL:
        return had
    for _ in range(_CEILING_ROUNDS):
        if had.pct is None or not is_off(problem, had.pct):
            break
        nearer = drawn_at(problem, had.pct[stock_table(problem.stocks).by_code])
        plain = linear_model(nearer)
        model = with_choices(plain, nearer) if prober.model.binary_column else plain
        same = next(each for each in model.wishes if each.id == wish.id)
        value = _best_value(nearer, Prober(nearer, plain, model, proved), same, proved)
        again = None if value is None else _as_can_be_had(problem, wish, value, solve_again)
        if again is None or _gain(wish, had, again) <= 0:
            break
        had = again
    return had


def _gain(wish: Wish, had: _Best, again: _Best) -> float:
    """By how much the one that can be had goes further than the other, in the wish's unit."""
    gain = again.reached - had.reached
    return gain if wish.at_least else -gain


def _best_value(
    problem: BlendProblem, prober: Prober, wish: Wish, proved: Proved | None
) -> tuple[float, Floats | None] | None:
    """The best figure, and shares (fractions, one a stock) that have it, if those are known."""
    if wish.kind is WishKind.COST_PER_GAL:
        least = least_cost_per_gal(problem, proved)
        return None if least is None else (least.per_gal, least.answer.pct / 100.0)
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
    optimum = _furthest(prober, wish)
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
            blend = solve_again([(wish.id, to)])
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
    to = _rounded(wish, best, scale, digits)
    try:
        verify(relaxed_problem(problem, [(wish.id, to)]), stock_table(problem.stocks).contents, pct)
    except EngineFailure:
        return None
    return to


def _rounded(wish: Wish, value: float, scale: float, digits: int, steps_back: int = 0) -> float:
    """A value rounded to what can be had; money to cents, or as costs per gallon are printed."""
    if wish.kind is WishKind.COST_PER_GAL:
        scale, digits = 1.0, min(digits, 1 + COST_PLACES)
    return rounded_to_feasible(
        value, at_least=wish.at_least, scale=scale, digits=digits, steps_back=steps_back
    )


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
        to = _rounded(wish, best, scale, digits, steps_back)
        blend = solve_again([(wish.id, to)])
        if blend is not None:
            return to, blend
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
        blend = solve_again([(wish.id, to) for wish, to in moves])
        if blend is not None:
            found.append(Alternative(relaxed, blend))
    return found


def _moves(model: Model, shares: Floats) -> Iterable[tuple[Wish, float]]:
    """Wishes that a recipe does not meet, each with the round value that it does meet."""
    for wish in model.wishes:
        if not wish.is_soft or wish.asked is None:
            continue
        value = wish_value(model, wish, shares)
        missed = wish.asked - value if wish.at_least else value - wish.asked
        if missed > 1e-7 * max(wish.asked, 1e-3) and math.isfinite(value):
            yield wish, _rounded(wish, value, max(wish.asked, value), ALTERNATIVE_DIGITS)
