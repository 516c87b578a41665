"""What each wish costs: the same request with one figure a usual step higher or lower.

It takes many times the work of the answer itself, so it is found out beside it: API and command
always say it (``wish_costs``), the page asks for it once the answer stands.
"""

from __future__ import annotations

from dataclasses import replace

from formulas.answers.answer import SolvedAnswer, WishStep
from formulas.contracts.field_paths import field_of
from formulas.contracts.formulation import Formulation, trusted
from formulas.contracts.formulation_answer import blend_totals
from formulas.engine.blend.wish_costs import MovedWish, moved_wishes
from formulas.engine.wishes import WishId, WishKind
from formulas.wording.limits import contract_words


def moved_wishes_of(formulation: Formulation) -> tuple[MovedWish, ...]:
    """Both steps of each wish of a solved formulation; none where a recipe was only evaluated.

    With a margin the figures that move are those aimed at.
    """
    request = formulation.request

    def is_asked(wish: WishId) -> bool:
        """Shares that were given as the recipe stay as they are."""
        return wish.kind is not WishKind.STOCK_LIMIT or (wish.index or 0) < request.own_limits

    if formulation.blend is None or request.recipe is not None:
        return ()
    with trusted():
        return moved_wishes(formulation.problem, formulation.blend, is_asked)


def with_wish_costs(formulation: Formulation) -> Formulation:
    """The same with ``wish_costs`` in its answer; as it is where a margin moves the figures."""
    answer = formulation.answer
    if not isinstance(answer, SolvedAnswer) or formulation.request.margin is not None:
        return formulation
    steps = tuple(_step(formulation, answer, move) for move in moved_wishes_of(formulation))
    return replace(formulation, answer=replace(answer, wish_costs=steps))


def _step(formulation: Formulation, answer: SolvedAnswer, move: MovedWish) -> WishStep:
    difference = None
    if move.blend is not None:
        totals = blend_totals(move.blend, formulation.catalogue, formulation.problem.fill)
        there, here = totals.cost_per_gal, answer.totals.cost_per_gal
        difference = None if there is None or here is None else there - here
    return WishStep(
        wish=contract_words(formulation.problem, move.wish),
        field=field_of(formulation.request, move.wish),
        step=move.step,
        material_per_gal=difference,
        status=move.status.value,
    )
