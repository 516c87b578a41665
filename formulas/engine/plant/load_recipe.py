"""Which stocks a load is made of: the recipe given, the plain optimum, or more of the problem.

The plain optimum beside a heel is that of the whole tank, in which the heel is a stock of fixed
share and no cost: what is charged makes up for what is there already.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formulas.engine.blend.choices import pairs, rule_id
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.solving import solve
from formulas.engine.composition import content_pct, slow_n_pct
from formulas.engine.density import blend_density_lb_per_gal
from formulas.engine.plant.load import LoadQuestion
from formulas.engine.plant.not_weighable import NotWeighable, Obstacle
from formulas.engine.problem import BlendProblem, Effect, NutrientWish, Stock, StockLimit
from formulas.engine.result import OutOfReach, Share, Solved

#: Rounds in which the mass that a heel is set against is corrected by the density found.
_DENSITY_ROUNDS: Final = 3
_FIRST_DENSITY: Final = 10.0
_HEEL: Final = "(heel)"
#: Rounds of aiming beyond the promises by what the boxes of the last optimum take.
_AIMING_ROUNDS: Final = 4
#: How much of each stock of a given recipe stays when others are let in.
_KEPT: Final = 0.8


@dataclass(frozen=True, slots=True)
class LoadRecipe:
    """The stocks that are used and their shares of what is charged, percent."""

    stocks: tuple[Stock, ...]
    pct: Floats

    def shares(self) -> tuple[Share, ...]:
        """As the engine takes a recipe."""
        return tuple(
            Share(stock.code, float(pct)) for stock, pct in zip(self.stocks, self.pct, strict=True)
        )

    def without(self, stock: Stock) -> LoadRecipe:
        """The recipe of the other stocks."""
        kept = np.array([each is not stock for each in self.stocks])
        pct = self.pct[kept]
        stocks = tuple(each for each in self.stocks if each is not stock)
        return LoadRecipe(stocks, pct * (100.0 / pct.sum()))

    def cost_per_lb(self) -> float:
        """Dollars a pound of what is charged."""
        return float(self.pct @ np.array([stock.cost_per_lb for stock in self.stocks])) / 100.0

    def density_lb_per_gal(self) -> float:
        """Of what is charged, as modelled."""
        return blend_density_lb_per_gal({s.code: s for s in self.stocks}, self.shares())


def plain_recipe(question: LoadQuestion) -> LoadRecipe:
    """The recipe given, or the plain optimum; ``NotWeighable`` names what conflicts in it."""
    found = recipe_if_any(question)
    if found is None:
        raise _out_of_reach(question)
    return found


def recipe_if_any(question: LoadQuestion) -> LoadRecipe | None:
    """``plain_recipe``, but None where no recipe meets the wish: why takes the most time."""
    promised = question.promised
    if question.recipe is None:
        return _optimum(question, promised)
    pct_of = {share.code: share.pct for share in question.recipe if share.pct > 0}
    recipe = _recipe_of(promised, pct_of)
    meeting = tuple(
        rule_id(index)
        for index, rule in enumerate(promised.rules)
        if rule.effect is Effect.BLOCKS and any(pairs(rule, recipe.stocks))
    )
    if meeting:
        raise NotWeighable(promised, meeting, None, None, obstacle=Obstacle.WISH)
    return recipe


def smaller_recipes(recipe: LoadRecipe) -> Iterator[LoadRecipe]:
    """The recipe with one of its stocks left out, the smallest first."""
    if len(recipe.stocks) > 1:
        for position in np.argsort(recipe.pct, kind="stable"):
            yield recipe.without(recipe.stocks[position])


def wider_recipes(question: LoadQuestion, plain: LoadRecipe) -> Iterator[LoadRecipe]:
    """Optima over all stocks of the problem that aim beyond each promise by what boxes take.

    A recipe that was given keeps most of each of its stocks.
    """
    problem = question.promised
    if question.recipe is not None:
        kept = tuple(
            StockLimit(stock.code, _KEPT * float(pct))
            for stock, pct in zip(plain.stocks, plain.pct, strict=True)
        )
        problem = replace(problem, stock_limits=(*problem.stock_limits, *kept))
    recipe = plain
    for beyond in range(1, _AIMING_ROUNDS + 1):
        found = _optimum(question, _aimed(question, problem, recipe, beyond))
        if found is None:
            return
        recipe = found
        yield recipe


def _optimum(question: LoadQuestion, problem: BlendProblem) -> LoadRecipe | None:
    density, found = _FIRST_DENSITY, None
    for _ in range(_DENSITY_ROUNDS if question.heel else 1):
        answer = solve(_beside_heel(question, problem, density), explain=False)
        if not isinstance(answer, Solved):
            return None
        pct_of = {share.code: share.pct for share in answer.blend.shares}
        found = _recipe_of(problem, pct_of)
        if not found.stocks:
            return None
        density = found.density_lb_per_gal() * question.density_correction
    return found


def _recipe_of(problem: BlendProblem, pct_of: dict[str, float]) -> LoadRecipe:
    stocks = tuple(stock for stock in problem.stocks if pct_of.get(stock.code, 0.0) > 0)
    pct = np.array([pct_of[stock.code] for stock in stocks])
    return LoadRecipe(stocks, pct * (100.0 / pct.sum()) if stocks else pct)


def _out_of_reach(question: LoadQuestion) -> NotWeighable:
    """What cannot be had however it is weighed, and whether that is so without a heel too."""
    promised = question.promised
    alone = solve(promised)
    obstacle = Obstacle.WISH if isinstance(alone, OutOfReach) else Obstacle.HEEL
    if question.heel is not None:
        alone = solve(_beside_heel(question, promised, _FIRST_DENSITY))
    conflict = alone.conflict if isinstance(alone, OutOfReach) else ()
    limits = tuple(limit for limit in conflict if limit.key != _HEEL)
    return NotWeighable(promised, limits, None, None, obstacle=obstacle)


def _beside_heel(question: LoadQuestion, problem: BlendProblem, density: float) -> BlendProblem:
    """The problem over the whole tank, its limits on stocks scaled to what is charged."""
    heel = question.heel
    if heel is None:
        return problem
    charged_lb = (question.volume_gal - heel.volume_gal) * density
    kept = charged_lb / (charged_lb + heel.mass_lb)
    share = 100.0 * (1.0 - kept)
    # Counted neither among the stocks nor by a rule: water carries no other trait.
    stock = Stock(
        _HEEL,
        _HEEL,
        heel.mass_lb / heel.volume_gal,
        0.0,
        heel.analysis,
        traits=frozenset({"water"}),
    )
    least = problem.smallest_charge_pct * kept
    return replace(
        problem,
        stocks=(*(_scaled_stock(each, kept) for each in problem.stocks), stock),
        stock_limits=(
            *(_scaled_limit(each, kept) for each in problem.stock_limits),
            StockLimit(_HEEL, share, share),
        ),
        # The heel itself may be smaller; the weights are held to it all the same.
        smallest_charge_pct=least if least <= share else 0.0,
    )


def _scaled_stock(stock: Stock, kept: float) -> Stock:
    if stock.min_pct <= 0 and stock.max_pct >= 100:
        return stock
    return replace(stock, min_pct=stock.min_pct * kept, max_pct=stock.max_pct * kept)


def _scaled_limit(limit: StockLimit, kept: float) -> StockLimit:
    return StockLimit(
        limit.code,
        None if limit.min_pct is None else limit.min_pct * kept,
        None if limit.max_pct is None else limit.max_pct * kept,
    )


def _aimed(
    question: LoadQuestion, problem: BlendProblem, recipe: LoadRecipe, beyond: int
) -> BlendProblem:
    """Each promise moved inward by ``beyond`` times what two divisions of each stock move it."""
    gal = question.volume_gal - (0.0 if question.heel is None else question.heel.volume_gal)
    mass = gal * recipe.density_lb_per_gal() * question.density_correction
    step = question.scale.step_lb
    off = np.array(
        [2.0 * (stock.scale_step_lb if step is None else step) for stock in recipe.stocks]
    )
    off *= beyond / mass

    def spread(contents: Floats, at: float) -> float:
        return float(np.abs(contents - at) @ off)

    wishes = []
    for wish in problem.wishes:
        contents = np.array([content_pct(s.analysis, wish.nutrient) for s in recipe.stocks])
        low, high = wish.min_pct, wish.max_pct
        low = None if low is None else min(100.0, low + spread(contents, low))
        high = None if high is None else max(0.0, high - spread(contents, high))
        if low is not None and high is not None and low > high:
            low = high = (low + high) / 2.0
        wishes.append(NutrientWish(wish.nutrient, low, high))
    slow = problem.slow_release
    if slow is not None:
        n = np.array([content_pct(s.analysis, "N") for s in recipe.stocks])
        slow_n = np.array([slow_n_pct(s.analysis) for s in recipe.stocks])
        total = max(1e-9, float(n @ recipe.pct) / 100.0)
        low, high = slow.min_pct, slow.max_pct
        if low is not None:
            low = min(100.0, low + 100.0 * spread(slow_n - low / 100.0 * n, 0.0) / total)
        if high is not None:
            high = max(0.0, high - 100.0 * spread(slow_n - high / 100.0 * n, 0.0) / total)
        if low is not None and high is not None and low > high:
            low = high = (low + high) / 2.0
        slow = replace(slow, min_pct=low, max_pct=high)
    return replace(problem, wishes=tuple(wishes), slow_release=slow)
