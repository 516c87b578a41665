"""Why a load has no room: the limits in the way, the windows too narrow, the scales too coarse."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.load import LoadQuestion, LoadScale
from formulas.engine.plant.load_recipe import LoadRecipe
from formulas.engine.plant.not_weighable import CoarseStep, NarrowWindow, NotWeighable
from formulas.engine.plant.room_search import NOISE_PCT, Asked, RoomSearch, guards_of
from formulas.engine.problem import Stock
from formulas.engine.wishes import Side, WishId, WishKind, asked_of, relaxed_problem

#: Divisions as scales have them, as parts of a power of ten, coarse to fine.
_SERIES: Final = (5.0, 2.0, 1.0)
#: A scale this much finer is as good as any.
_FINEST: Final = 100.0
_WINDOW_KINDS: Final = (WishKind.NUTRIENT, WishKind.SLOW_RELEASE)
#: Rounds of halving all percentages until a figure is known to about a thousandth.
_HALVINGS: Final = 17
#: Digits tried outward from where weights that need not be whole have room.
_OUTWARD: Final = 25


def reasons(question: LoadQuestion, recipe: LoadRecipe, asked: Asked) -> NotWeighable:
    """What stands in the way of ``recipe`` with one division of room a step."""
    promised = question.promised
    guards = guards_of(promised, recipe.stocks, question.heel)
    limits = tuple(dict.fromkeys(guard.limit for guard in guards))
    alone = tuple(
        limit for limit in limits if _has_room(question, recipe, asked, without=frozenset({limit}))
    )
    steps = tuple(_coarse_steps(question, recipe, asked))
    return NotWeighable(
        promised,
        alone or _broken_at(question, recipe, asked) or limits,
        None,
        _coarsest(question, recipe, steps),
        coarse_steps=steps,
        windows=tuple(_windows(question, recipe, asked, alone)),
    )


def _has_room(
    question: LoadQuestion,
    recipe: LoadRecipe,
    asked: Asked,
    without: frozenset[WishId] = frozenset(),
) -> bool:
    search = RoomSearch(question, recipe, without=without)
    return search.may_have_room(asked) and search.weighed(asked, 0.0) is not None


def _broken_at(question: LoadQuestion, recipe: LoadRecipe, asked: Asked) -> tuple[WishId, ...]:
    """The limits that the recipe itself would break with one division a step."""
    correction = question.density_correction
    gal = asked.least_gal - (0.0 if question.heel is None else question.heel.volume_gal)
    weights = recipe.pct / 100.0 * gal * recipe.density_lb_per_gal() * correction
    divisions = np.array([_division(question, stock) for stock in recipe.stocks])
    boxes = Boxes(recipe.stocks, weights, divisions, question.heel, correction)
    guards = guards_of(question.promised, recipe.stocks, question.heel)
    return tuple(dict.fromkeys(guard.limit for guard in guards if boxes.least(guard) < -NOISE_PCT))


def _windows(
    question: LoadQuestion, recipe: LoadRecipe, asked: Asked, limits: Iterable[WishId]
) -> Iterator[NarrowWindow]:
    """For each figure in the way, the nearest one that can be made with all else kept."""
    promised = question.promised
    for limit in limits:
        figure = asked_of(promised, limit)
        if limit.kind not in _WINDOW_KINDS or figure is None:
            continue
        nearest = _nearest(question, recipe, asked, limit, figure)
        if nearest is not None:
            side = Side.MOST if limit.at_least else Side.LEAST
            other = asked_of(promised, replace(limit, side=side))
            yield NarrowWindow(limit, figure, nearest, other)


def _nearest(
    question: LoadQuestion, recipe: LoadRecipe, asked: Asked, limit: WishId, figure: float
) -> float | None:
    def search(to: float) -> RoomSearch:
        moved = relaxed_problem(question.promised, [(limit, to)])
        return RoomSearch(replace(question, problem=moved, printed_pct={}), recipe)

    refused, had = figure, 0.0 if limit.at_least else 100.0
    for _ in range(_HALVINGS):
        middle = (refused + had) / 2.0
        if search(middle).may_have_room(asked):
            had = middle
        else:
            refused = middle
    step = _last_digit(figure)
    first = math.floor(had / step) if limit.at_least else math.ceil(had / step)
    for outward in range(_OUTWARD):
        to = round((first - outward if limit.at_least else first + outward) * step, 6)
        if 0.0 <= to <= 100.0 and search(to).weighed(asked, 0.0) is not None:
            return to
    return None


def _last_digit(figure: float) -> float:
    """Hundredths for grades, finer for traces."""
    if figure >= 1.0 or figure == 0.0:
        return 0.01
    return 0.001 if figure >= 0.1 else 0.0001


def _coarse_steps(question: LoadQuestion, recipe: LoadRecipe, asked: Asked) -> Iterator[CoarseStep]:
    """Each stock that a finer scale of its own would make room for; else all of them together."""
    alone = False
    for stock in recipe.stocks:
        division = _division(question, stock)
        for finer in _finer(division):
            if _has_room(*_on_scales(question, recipe, {stock.code: finer}), asked):
                yield CoarseStep(stock.code, division, finer)
                alone = True
                break
    coarsest = max(_division(question, stock) for stock in recipe.stocks)
    for finer in () if alone else _finer(coarsest):
        everywhere = {s.code: min(finer, _division(question, s)) for s in recipe.stocks}
        if _has_room(*_on_scales(question, recipe, everywhere), asked):
            yield CoarseStep(None, coarsest, finer)
            break


def _coarsest(
    question: LoadQuestion, recipe: LoadRecipe, steps: Iterable[CoarseStep]
) -> Stock | None:
    """The stock with the coarsest division where finer ones would do."""
    if not steps:
        return None
    coarsest = max(recipe.stocks, key=lambda stock: _division(question, stock))
    return replace(coarsest, scale_step_lb=_division(question, coarsest))


def _division(question: LoadQuestion, stock: Stock) -> float:
    step = question.scale.step_lb
    return stock.scale_step_lb if step is None else step


def _on_scales(
    question: LoadQuestion, recipe: LoadRecipe, division_of: dict[str, float]
) -> tuple[LoadQuestion, LoadRecipe]:
    """The question and its recipe with scales of their own for some stocks."""

    def moved(stocks: Iterable[Stock]) -> tuple[Stock, ...]:
        return tuple(
            replace(stock, scale_step_lb=division_of.get(stock.code, _division(question, stock)))
            for stock in stocks
        )

    problem = replace(question.problem, stocks=moved(question.problem.stocks))
    return (
        replace(question, problem=problem, scale=LoadScale(None, question.scale.fine)),
        replace(recipe, stocks=moved(recipe.stocks)),
    )


def _finer(division: float) -> Iterator[float]:
    """1-2-5 divisions below ``division``, the largest first, down to a hundredth of it."""
    power = math.ceil(math.log10(division))
    while True:
        for part in _SERIES:
            finer = float(f"{part}e{power}")
            if finer < division / _FINEST * (1 - 1e-9):
                return
            if finer < division * (1 - 1e-9):
                yield finer
        power -= 1
