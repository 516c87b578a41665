"""The whole question answered: refuse, optimise, verify, describe, or say why not."""

from __future__ import annotations

from formulas.engine.blend.cheapest_per import cheapest_per
from formulas.engine.blend.cost_ceiling import within_ceiling
from formulas.engine.blend.evaluate import blend_of
from formulas.engine.blend.explain import explain_out_of_reach
from formulas.engine.blend.optimise import Answer, optimise
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.proved import Proved
from formulas.engine.blend.sensitivity import sensitivities
from formulas.engine.blend.stock_table import content_table, in_stock_order
from formulas.engine.blend.verify import verify
from formulas.engine.problem import BlendProblem, Per
from formulas.engine.result import Blend, OutOfReach, Sensitivity, Solved
from formulas.engine.validate import validate
from formulas.engine.wishes import Side, WishId, WishKind
from formulas.engine.work.effort import TooLarge, TooLate, bounded


@bounded
def solve(problem: BlendProblem, *, explain: bool = True) -> Solved | OutOfReach:
    """The cheapest (or strongest) blend that meets every wish, or why there is none.

    Raises ``BadProblem`` for a wrong question, ``TooLarge``, and ``EngineFailure`` when the solver
    gave no trustworthy answer. With ``explain=False`` an out-of-reach answer carries no reasons,
    which is what a caller in a loop wants.

    Water and a 32 % N solution to 28 % N (Pearson square, 28 parts to 4)::

        >>> from formulas.engine.problem import BlendProblem, NutrientWish, Stock
        >>> uan = Stock("UAN", "UAN 32", 11.06, 0.20, {"N.urea": 16, "N.nitrate": 8,
        ...             "N.ammoniacal": 8})
        >>> water = Stock("W", "Water", 8.34, 0.0, {}, traits=frozenset({"water"}))
        >>> answer = solve(BlendProblem((uan, water), (NutrientWish("N", 28.0),)))
        >>> [(share.code, round(share.pct, 6)) for share in answer.blend.shares]
        [('UAN', 87.5), ('W', 12.5)]
    """
    proved = Proved()
    answer = _answered(problem, proved)
    if answer is not None:
        return solved(problem, answer)
    if not explain:
        return OutOfReach((), (), ())
    try:
        return explain_out_of_reach(problem, lambda nearby: _blend(nearby, proved), proved)
    except TooLate:
        raise
    except TooLarge:
        return OutOfReach(conflict=(), reach=(), alternatives=(), is_explained=False)


def _answered(problem: BlendProblem, proved: Proved, *, only_recipe: bool = False) -> Answer | None:
    """The answer without reasons, None where there is none."""
    validate(problem)

    def find(drawn: BlendProblem) -> Answer | None:
        if drawn.strongest is None and drawn.cheapest_per is not Per.LB:
            return cheapest_per(drawn, proved)
        return optimise(drawn, proved=proved, only_recipe=only_recipe)

    return within_ceiling(problem, find, proved)


def _blend(problem: BlendProblem, proved: Proved) -> Blend | None:
    """The answer's verified blend alone."""
    answer = _answered(problem, proved, only_recipe=True)
    if answer is None:
        return None
    return verified_blend(problem, in_stock_order(problem.stocks, answer.pct))


def solved(problem: BlendProblem, answer: Answer) -> Solved:
    """A verified answer with everything that follows from it."""
    blend = verified_blend(problem, in_stock_order(problem.stocks, answer.pct))
    prices = sensitivities(answer)
    ceiling = WishId(WishKind.COST_PER_GAL, Side.MOST)
    if problem.cost_ceiling is not None and all(each.wish != ceiling for each in prices):
        prices += (Sensitivity(ceiling, 0.0),)  # it was not in the way
    return Solved(blend=blend, sensitivities=prices)


def verified_blend(problem: BlendProblem, pct: Floats) -> Blend:
    """The blend of shares in percent, one a stock of the problem in its order.

    Raises ``EngineFailure`` where they do not answer the problem.
    """
    table = content_table(problem.stocks)
    verify(problem, table, pct)
    return blend_of(problem.stocks, table, pct, problem.rules, problem.fill)
