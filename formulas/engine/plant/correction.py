"""A tank that missed its weights: what to add so that every promise holds again, or what else.

Nothing can be taken out of a tank, so an overweight charge is thinned by all the others and an
underweight one is made up. ``correction_program`` states the mathematics, ``correction_tank``
checks whatever it answers, ``correction_reasons`` says why there is no answer and
``correction_grade`` what the tank can still honestly be sold as.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formulas.engine.label.rules import Kind
from formulas.engine.plant.correction_grade import BestGrade, best_grade
from formulas.engine.plant.correction_reasons import Reason, reason_for
from formulas.engine.plant.correction_tank import (
    Addition,
    Aim,
    Corrected,
    InTank,
    NotFound,
    OnHand,
    Promise,
    Tank,
)
from formulas.engine.problem import BlendProblem
from formulas.engine.work.effort import bounded

__all__ = [
    "Addition",
    "Aim",
    "BestGrade",
    "CannotCorrect",
    "Corrected",
    "InTank",
    "OnHand",
    "Promise",
    "correct",
]


@dataclass(frozen=True, slots=True)
class CannotCorrect:
    """What is in the way, and the best the tank can be sold as (None: hold it).

    ``problem`` is the promise as a question, to which the limits in the reason belong.
    """

    reason: Reason
    best: BestGrade | None
    problem: BlendProblem


@bounded
def correct(
    tank: Sequence[InTank],
    on_hand: Sequence[OnHand],
    promise: Promise,
    *,
    aim: Aim = Aim.COST,
    kind: Kind = Kind.SPECIALTY,
    jurisdiction: str | None = None,
) -> Corrected | CannotCorrect:
    """Additions, in whole scale steps, after which the tank keeps every promise, or why not.

    ``kind`` and ``jurisdiction`` only decide how finely the best grade may be printed. A wish
    whose minimum and maximum are equal can hardly be weighed: give the guarantee as a minimum.
    The stocks' own minimum shares are not looked at. What takes more work than one question may
    ends with the best additions found (``gap``). Raises ``TooLarge`` where none were found, which
    proves nothing, and ``BadProblem`` naming every wrong field.

    500 lb of 20 % N to 22 % with a 32 % solution (Pearson: 2 parts to 10)::

        >>> from formulas.engine.problem import NutrientWish, Stock
        >>> weak = Stock("WEAK", "Too weak", 9.3, 0.1, {"N.urea": 20.0})
        >>> uan = Stock("UAN", "UAN 32", 11.06, 0.2, {"N.urea": 32.0})
        >>> done = correct([InTank(weak, 500.0)], [OnHand(uan, 1000.0)],
        ...     Promise((NutrientWish("N", 22.0),), most_gal=265.0))
        >>> [(each.code, each.weight_lb) for each in done.additions], done.added_cost
        ([('UAN', 100.0)], 20.0)
    """
    question = Tank.of(tank, on_hand, promise, aim)
    if not question.rows.already_broken:
        try:
            return question.corrected(question.guards)
        except NotFound:
            pass
    best = best_grade(question, kind, jurisdiction)
    return CannotCorrect(reason_for(question), best, question.problem)
