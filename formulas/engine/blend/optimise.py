"""From a valid question to the one best recipe: linear first, choices only when needed.

1. Solve the linear program. It leaves the choices out, so if its answer keeps them it is the
   answer. Otherwise solve with binary columns, then once more linearly with the choices fixed,
   which gives exact shares and duals.
2. "Strongest" maximises the nutrient first and then minimises cost at that strength.
3. Ties at the least cost are broken the same way everywhere: fewest stocks, then the earlier
   codes take the larger shares. Skipped when the optimum is provably unique, that is when
   nothing at a limit could move without changing the cost.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.branch_and_bound import ChoiceSearch, SearchTooLarge
from formulas.engine.blend.choices import choices_are_kept, with_choices
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model, linear_model
from formulas.engine.blend.only_recipe import TIE_TOLERANCE, is_only_recipe
from formulas.engine.blend.programs import Floats, Limits, Optimum, Program
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.stock_table import TABLE_COLUMN
from formulas.engine.problem import BlendProblem

#: Shares (fractions) below this are the solver's noise.
NOISE: Final = 1e-9
#: How much cost or strength a later pass may give back, far below anything printed.
_GIVE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Answer:
    """An optimal recipe with the linear program that proves it.

    ``pct`` follows ``model.stocks`` (sorted by code); ``session`` still holds the program at
    the first optimal basis unless ties were broken.
    """

    model: Model
    limits: Limits
    optimum: Optimum
    pct: Floats
    session: Session
    is_unique: bool


def optimise(
    problem: BlendProblem,
    cost: Floats | None = None,
    proved: Proved | None = None,
    *,
    only_recipe: bool = False,
) -> Answer | None:
    """The best recipe of a valid problem, None when no recipe meets every wish.

    ``cost`` (n,), in the order of the codes, stands in for the stocks' own dollars per lb.
    ``proved`` is what was proved of neighbouring questions, and gets what is proved of this one.
    With ``only_recipe`` nobody asks for prices, so the session need not hold the program that
    proves the recipe where it was found by choices.
    """
    model = linear_model(problem)
    if cost is not None:
        model = replace(model, cost=cost)
    answer = _optimise_linear(problem, model, model.limits())
    if answer is not None and proved is not None:
        proved.add_recipe(answer.optimum.x)
    if answer is None or choices_are_kept(problem, model.stocks, answer.pct):
        return answer
    mixed: Model | None = None
    try:
        chosen = _by_branching(problem, model, proved, answer.session)
    except SearchTooLarge:
        mixed = with_choices(model, problem)
        chosen = _by_general_search(problem, mixed)
    if chosen is None:
        return None
    if proved is not None:
        proved.add_recipe(chosen.x)
    if only_recipe and chosen.is_only:
        return replace(answer, optimum=chosen, pct=clean_pct(chosen.x), is_unique=True)
    mixed = mixed or with_choices(model, problem)
    return _optimise_linear(problem, mixed.linear(), _with_fixed_choices(mixed, chosen.x))


def _optimise_linear(problem: BlendProblem, model: Model, limits: Limits) -> Answer | None:
    if problem.strongest is not None:
        model, limits = _with_strength_row(problem.strongest, model, limits)
    session = Session(model.program(limits))
    if problem.strongest is not None and not _keep_strongest(
        problem.strongest, model, limits, session, row=-1
    ):
        return None
    optimum = session.run()
    if optimum is None:
        return None
    shares = optimum.x
    is_unique = is_only_recipe(session, limits, optimum)
    if not is_unique:
        shares = _break_ties(model, _face(limits, optimum), session, optimum.x)
    return Answer(
        model=model,
        limits=limits,
        optimum=optimum,
        pct=clean_pct(shares[: len(model.stocks)]),
        session=session,
        is_unique=is_unique,
    )


def _with_strength_row(nutrient: str, model: Model, limits: Limits) -> tuple[Model, Limits]:
    return model.with_row(model.table[:, TABLE_COLUMN[nutrient]]), limits.with_free_row()


def _keep_strongest(
    nutrient: str, model: Model, limits: Limits, session: Session, *, row: int
) -> bool:
    """Maximise the nutrient and keep it in ``row``; False if nothing is feasible.

    The session's objective is the cost again afterwards.
    """
    session.set_cost(-model.row_of(model.table[:, TABLE_COLUMN[nutrient]]))
    best = session.run()
    if best is None:
        return False
    limits.row_lower[row] = -best.objective - _GIVE
    session.set_limits(limits)
    session.set_cost(model.cost)
    if session.is_mip:
        session.begin_with(best.x)
    return True


def _with_fixed_choices(mixed: Model, chosen: Floats) -> Limits:
    """Limits with every binary column fixed as in a recipe."""
    fixed = mixed.limits()
    for i, y in mixed.binary_column.items():
        fixed.col_lower[y] = fixed.col_upper[y] = float(chosen[i] > NOISE)
    return fixed


def _by_branching(
    problem: BlendProblem, plain: Model, proved: Proved | None, session: Session
) -> Optimum | None:
    """The best recipe by branching on the rules that it breaks.

    ``session`` holds the linear program, with the strength as its last row where that is asked.
    """
    if problem.strongest is None:
        search = ChoiceSearch(problem, plain, proved, session)
        best = search.best(problem, search.model.limits(), plain.cost)
    else:
        strength = plain.table[:, TABLE_COLUMN[problem.strongest]]
        row = plain.A.shape[0]
        search = ChoiceSearch(problem, plain.with_row(strength), proved, session)
        limits = search.model.limits()
        strongest = search.best(problem, limits, -strength)
        if strongest is None:
            return None
        limits.row_lower[row] = -strongest.objective - _GIVE
        best = search.best(problem, limits, plain.cost)
    return best


def _by_general_search(problem: BlendProblem, mixed: Model) -> Optimum | None:
    """The best recipe over all binary columns: strength, cost, fewest stocks; its shares only."""
    model, limits = mixed, mixed.limits()
    if problem.strongest is not None:
        model, limits = _with_strength_row(problem.strongest, model, limits)
    model, limits = model.with_row(model.cost[: len(model.stocks)]), limits.with_free_row()
    session = Session(model.program(limits))
    if problem.strongest is not None and not _keep_strongest(
        problem.strongest, model, limits, session, row=-2
    ):
        return None
    cheapest = session.run()
    if cheapest is None:
        return None
    limits.row_upper[-1] = cheapest.objective + _GIVE
    session.set_limits(limits)
    session.set_cost(_fewest(model))
    session.begin_with(cheapest.x)
    fewest = session.run() or cheapest  # the cheapest recipe itself keeps the added limit
    return replace(fewest, x=_only_chosen(model, fewest.x))


def _only_chosen(model: Model, x: Floats) -> Floats:
    """The shares, zero where the binary column says no (its tolerance leaves a trace)."""
    shares = x[: len(model.stocks)].copy()
    for i, y in model.binary_column.items():
        if round(x[y]) == 0:
            shares[i] = 0.0
    return shares


def _fewest(model: Model) -> Floats:
    """Objective: number of stocks (water counts least), then larger shares for earlier codes."""
    cost = -0.4 * model.row_of(_preference(len(model.stocks)))
    for i, y in model.binary_column.items():
        cost[y] = 0.5 if model.stocks[i].is_water else 1.0
    return cost


def _preference(n: int) -> Floats:
    """Falling weights in (0, 1]; square roots, so no simple trade of shares balances them."""
    weights: Floats = np.sqrt(np.arange(n, 0, -1) / n)
    return weights


def _face(limits: Limits, optimum: Optimum) -> Limits:
    """Limits of all optimal recipes: whatever has a price stays at the limit it is at."""
    face = limits.copy()
    for lower, upper, dual in (
        (face.row_lower, face.row_upper, optimum.row_dual),
        (face.col_lower, face.col_upper, optimum.col_dual),
    ):
        at_lower, at_upper = dual > TIE_TOLERANCE, dual < -TIE_TOLERANCE
        upper[at_lower] = lower[at_lower]
        lower[at_upper] = upper[at_upper]
    return face


def _break_ties(model: Model, face: Limits, session: Session, fallback: Floats) -> Floats:
    """Among the recipes on the face: fewest stocks, then larger shares for earlier codes."""
    n, width = len(model.stocks), model.A.shape[1]
    free = [i for i in range(n) if face.col_upper[i] > 0 and face.col_lower[i] <= 0]
    counted = _with_counted(model, face, free)
    fewest = Session(counted).run()
    if fewest is None:
        return fallback
    chosen = face.copy()
    for position, i in enumerate(free):
        if round(fewest.x[width + position]) == 0:
            chosen.col_upper[i] = 0.0
    session.set_limits(chosen)
    session.set_cost(-model.row_of(_preference(n)))
    settled = session.run()
    return fallback if settled is None else settled.x


def _with_counted(model: Model, face: Limits, free: list[int]) -> Program:
    """The face with one binary column for each stock in ``free``, and the count as its cost."""
    n, (m, width), extra = len(model.stocks), model.A.shape, len(free)
    A = np.zeros((m + extra, width + extra))
    A[:m, :width] = model.A
    A[np.arange(m, m + extra), free] = 1.0
    A[np.arange(m, m + extra), np.arange(width, width + extra)] = -1.0
    count = [0.5 if model.stocks[i].is_water else 1.0 for i in free]
    return Program(
        cost=np.concatenate([-0.4 * model.row_of(_preference(n)), count]),
        A=A,
        limits=Limits(
            np.append(face.row_lower, np.full(extra, -np.inf)),
            np.append(face.row_upper, np.zeros(extra)),
            np.append(face.col_lower, np.zeros(extra)),
            np.append(face.col_upper, np.ones(extra)),
        ),
        integer=np.arange(width + extra) >= width,
    )


def clean_pct(shares: Floats) -> Floats:
    """Shares in percent without the solver's noise, adding up to 100 again.

    The recipe is verified after this, so cleaning cannot hide a broken wish.
    """
    kept = np.where(shares < NOISE, 0.0, shares)
    pct: Floats = kept * (100.0 / kept.sum())
    return pct
