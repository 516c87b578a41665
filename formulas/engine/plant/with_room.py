"""A tank load whose promises hold for every weight the scale may show as on target.

Which stocks are used is decided first: those of the recipe, or of the plain optimum. Then each
gets a weight in whole divisions of its scale and a tolerance ``max(one division, tau w)``, so
that for all weights within their tolerances *together* every minimum and maximum, the slow
share, each printed line and each rule hold (``boxes`` is the exact check). Where the recipe has
no such room, the weights move to where there is, at the least cost per gallon. Stocks outside
the recipe come in only where its own have no room at all.

``tau`` is the wanted tolerance or, where the wish leaves less room, the largest there is room
for, in hundredths of a percent; 0 means one division a step, the smallest room there is.

The volume: the least that the boxes can hold is at least what is asked, and the most is within
the tank. Where both cannot be had (a full tank), the least may be one gallon short; then the
tolerance shrinks, because what runs over is lost and a hazard; what cannot be had even with one
division a step is said by the finding ``above_capacity``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final

import numpy as np

from formulas.engine.blend.evaluate import evaluate
from formulas.engine.label.rules import CHELATED
from formulas.engine.label.sources import chelated_parts
from formulas.engine.plant.boxes import Boxes
from formulas.engine.plant.load import LoadQuestion, LoadStep, PlannedLoad
from formulas.engine.plant.load_recipe import (
    LoadRecipe,
    plain_recipe,
    recipe_if_any,
    smaller_recipes,
    wider_recipes,
)
from formulas.engine.plant.load_refusals import refuse_wrong
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.print_aim import PrintAim
from formulas.engine.plant.room_program import FEWEST_DIVISIONS, MOST_NODES
from formulas.engine.plant.room_reasons import reasons
from formulas.engine.plant.room_search import NOISE_PCT, Asked, RoomSearch, WithRoom, guards_of
from formulas.engine.problem import BadProblem
from formulas.engine.result import Finding, Severity, Share
from formulas.engine.validate import unknown_stock
from formulas.engine.wishes import WishId
from formulas.engine.work.effort import MOST_UNITS, allowed

#: What a load may be short of the asked volume where the tank has no room for more.
SHORT_GAL: Final = 1.0
#: Plans kept. A call asks for the same loads again and again: table, draft, quote, order, batch.
_KEPT: Final = 256
#: Units of work to say why there is no plan, beside those of finding that there is none.
_REASON_UNITS: Final = MOST_UNITS / 2.0
_SOURCE: Final = "follows from the weights and their tolerances"


def plan_with_room(question: LoadQuestion, *, most_nodes: int = MOST_NODES) -> PlannedLoad:
    """Weights and tolerances of a load, and what is sure for every weight on target.

    A search over whole numbers ends after ``most_nodes``; its ``gap`` says how far from proven
    best. Raises ``BadProblem`` naming each wrong field, and ``NotWeighable`` where no whole
    divisions keep every promise with one division of room a step.

    Where the plan without the printed lines keeps them, it is the plan: lines are promised of a
    first load, and later loads like it weigh, and cost, the same.
    """
    found = plan_if_room(question, most_nodes=most_nodes)
    if found is not None:
        return found
    with allowed(_REASON_UNITS):
        plain = plain_recipe(question)
        raise reasons(question, plain, Asked(_least_gal(question), np.inf, prints_total=False))


def plan_if_room(question: LoadQuestion, *, most_nodes: int = MOST_NODES) -> PlannedLoad | None:
    """``plan_with_room``, but None where it refuses: looking for the reasons takes the most time.

    Raises ``BadProblem`` naming each wrong field.
    """
    refuse_wrong(question)
    if question.printed_pct:
        free = _planned_once(replace(question, printed_pct={}), most_nodes)
        lines = question.printed_pct.items()
        if free is not None and all(
            free.least_pct.get(key, 0.0) >= pct - NOISE_PCT for key, pct in lines
        ):
            return free
    return _planned_once(question, most_nodes)


@dataclass(frozen=True, slots=True)
class _WrittenOut:
    """A question known by all its figures: mappings have no hash, what is written of them has."""

    figures: str
    question: LoadQuestion = field(compare=False)


def _planned_once(question: LoadQuestion, most_nodes: int) -> PlannedLoad | None:
    """Nothing but the question decides a plan, and all of it is frozen."""
    return _planned(_WrittenOut(repr(question), question), most_nodes)


@lru_cache(maxsize=_KEPT)
def _planned(asked: _WrittenOut, most_nodes: int) -> PlannedLoad | None:
    # An allowance of its own: whether there is a plan must not depend on what was asked before.
    with allowed():
        return _plan(asked.question, most_nodes)


def _plan(question: LoadQuestion, most_nodes: int) -> PlannedLoad | None:
    try:
        plain = recipe_if_any(question)
    except NotWeighable:
        return None
    if plain is None:
        return None
    for prints_total in (True, False):
        for recipe in _recipes(question, plain):
            search = RoomSearch(question, recipe, most_nodes=most_nodes)
            found = _most_room(question, search, prints_total=prints_total)
            if found is not None:
                found = _without_crumbs(
                    question, recipe, found, most_nodes=most_nodes, prints_total=prints_total
                )
                return _described(question, plain, found)
    return None


def broken_for(question: LoadQuestion, steps: Sequence[LoadStep]) -> tuple[WishId, ...]:
    """Promises that some weights inside the boxes of ``steps`` would break.

    Identities are those of ``question.promised``; its stocks may have the figures of the lots
    at hand. Cheap: one row a limit and no solving. Raises ``BadProblem`` for an unknown stock.
    """
    stock_of = {stock.code: stock for stock in question.problem.stocks}
    unknown = tuple(
        unknown_stock(f"steps.{index}.code", step.code)
        for index, step in enumerate(steps)
        if step.code not in stock_of
    )
    if unknown:
        raise BadProblem(unknown)
    boxes = Boxes(
        stocks=tuple(stock_of[step.code] for step in steps),
        weight_lb=np.array([step.weight_lb for step in steps]),
        tolerance_lb=np.array([step.tolerance_lb for step in steps]),
        heel=question.heel,
        density_correction=question.density_correction,
    )
    guards = guards_of(question.promised, boxes.stocks, question.heel)
    return tuple(dict.fromkeys(guard.limit for guard in guards if boxes.least(guard) < -NOISE_PCT))


def _recipes(question: LoadQuestion, plain: LoadRecipe) -> Iterator[LoadRecipe]:
    """The recipe, its stocks but one, then others of the problem; each set of stocks once."""
    tried = {frozenset(stock.code for stock in plain.stocks)}
    yield plain
    for others in (smaller_recipes(plain), wider_recipes(question, plain)):
        for recipe in others:
            codes = frozenset(stock.code for stock in recipe.stocks)
            if codes not in tried:
                tried.add(codes)
                yield recipe


def _most_room(
    question: LoadQuestion, search: RoomSearch, *, prints_total: bool
) -> WithRoom | None:
    """The wanted or largest tolerance; at it, the volume asked for if that fits."""
    wanted, brim = question.tolerance_pct / 100.0, question.capacity_gal
    whole = Asked(question.volume_gal, np.inf if brim is None else brim, prints_total)
    found = search.weighed(whole, wanted)
    if found is not None:
        return found
    if not search.may_have_room(replace(whole, least_gal=_least_gal(question), most_gal=np.inf)):
        return None
    if brim is None:
        return search.most_room(whole, wanted)
    short = replace(whole, least_gal=_least_gal(question))
    found = search.most_room(short, wanted)
    if found is not None:
        return search.weighed(whole, found.tau) or found
    return search.most_room(replace(short, most_gal=np.inf), wanted)


def _without_crumbs(
    question: LoadQuestion,
    recipe: LoadRecipe,
    found: WithRoom,
    *,
    most_nodes: int,
    prints_total: bool,
) -> WithRoom:
    """The load without a stock that only the smallest weighing is left of, if no dearer.

    Where the recipe is given, each of its stocks is there for a reason.
    """
    if question.recipe is not None:
        return found
    for stock, weight, scale in zip(
        found.boxes.stocks, found.boxes.weight_lb, found.scales, strict=True
    ):
        if weight <= FEWEST_DIVISIONS * scale.counted_lb and len(recipe.stocks) > 1:
            search = RoomSearch(question, recipe.without(stock), most_nodes=most_nodes)
            fewer = _most_room(question, search, prints_total=prints_total)
            if fewer is not None and fewer.tau >= found.tau and _is_no_dearer(fewer, found):
                return fewer
    return found


def _is_no_dearer(one: WithRoom, other: WithRoom) -> bool:
    return _cost(one) / one.boxes.volume_gal() <= _cost(other) / other.boxes.volume_gal()


def _cost(found: WithRoom) -> float:
    """Dollars of the stocks charged."""
    boxes = found.boxes
    return float(boxes.weight_lb @ np.array([stock.cost_per_lb for stock in boxes.stocks]))


def _least_gal(question: LoadQuestion) -> float:
    """The least that the tank may hold on target where it cannot be as asked."""
    standing = 0.0 if question.heel is None else question.heel.volume_gal
    if question.capacity_gal is None:
        return question.volume_gal
    return max(question.volume_gal - SHORT_GAL, (question.volume_gal + standing) / 2.0)


def _described(question: LoadQuestion, plain: LoadRecipe, found: WithRoom) -> PlannedLoad:
    boxes = found.boxes
    blend = evaluate(boxes.stocks, boxes.shares(), question.problem.rules)
    cost, volume = _cost(found), boxes.volume_gal()
    least, most = boxes.extremes_pct()
    slow = boxes.slow_release_extremes_pct()
    return PlannedLoad(
        steps=tuple(
            LoadStep(stock.code, float(weight), float(tolerance), scale.kind, scale.division_lb)
            for stock, weight, tolerance, scale in zip(
                boxes.stocks, boxes.weight_lb, boxes.tolerance_lb, found.scales, strict=True
            )
        ),
        tolerance_pct=round(100.0 * found.tau, 6),
        blend=blend,
        analysis=boxes.analysis_pct(),
        slow_release_pct=boxes.slow_release_pct(),
        density_lb_per_gal=boxes.mass_lb / volume,
        net_weight_lb=boxes.mass_lb,
        volume_gal=volume,
        least_gal=boxes.least_gal(),
        least_pct=least,
        most_pct=most,
        least_slow_release_pct=None if slow is None else slow[0],
        cost=cost,
        room_cost_per_gal=max(0.0, cost / volume - _plain_cost_per_gal(question, plain)),
        findings=(*blend.findings, *_findings(question, found)),
        gap=found.gap,
        least_chelated_pct=_least_chelated_pct(boxes),
    )


def _least_chelated_pct(boxes: Boxes) -> dict[str, float]:
    parts = [chelated_parts([Share(s.code, 100.0)], {s.code: s}) for s in boxes.stocks]
    return {
        key: boxes.least_part_pct(np.array([part.get(key, 0.0) for part in parts]))
        for key in CHELATED
        if any(key in part for part in parts)
    }


def _plain_cost_per_gal(question: LoadQuestion, plain: LoadRecipe) -> float:
    """Cost per gallon in the tank of the recipe itself, filled up to the asked volume."""
    standing = 0.0 if question.heel is None else question.heel.volume_gal
    density = plain.density_lb_per_gal() * question.density_correction
    charged_lb = (question.volume_gal - standing) * density
    return plain.cost_per_lb() * charged_lb / question.volume_gal


def _findings(question: LoadQuestion, found: WithRoom) -> Iterator[Finding]:
    if found.tau < question.tolerance_pct / 100.0 - 1e-9:
        yield Finding(
            "less_room",
            Severity.INFO,
            f"There is room for {100.0 * found.tau:.2g} % of each weight, at least one division "
            f"of its scale; {question.tolerance_pct:g} % was wanted.",
            _SOURCE,
        )
    brim, most_gal = question.capacity_gal, found.boxes.most_gal()
    if brim is not None and most_gal > brim * (1.0 + 1e-9):
        yield Finding(
            "above_capacity",
            Severity.CAUTION,
            f"With every weight at the upper end of its tolerance the tank would hold "
            f"{most_gal:.1f} gal; it takes {brim:g} gal.",
            _SOURCE,
        )
    aim = PrintAim.of(question)
    if aim is not None and not aim.missing(found.boxes.extremes_pct()[0]).is_none:
        yield Finding(
            "prints_less",
            Severity.CAUTION,
            "The printed forms of nitrogen, each rounded down from what is sure of it, add up "
            "to less than was wished.",
            _SOURCE,
        )
