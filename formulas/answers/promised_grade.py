"""The grade a blend is sold under: what was wished of it, else what a weighed load surely holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from formulas.answers.wish import Wish
from formulas.engine.composition import content_pct
from formulas.engine.label.grade import grade_of

#: Part of an unwished content that a load holds also when its stock is weighed at the lower end
#: of the usual tolerance and all others at the upper: 1 - 2 x 0.5 %.
SURE: Final = 0.99
#: What may stand beside a grade in a name: ``24-0-2, 50 % slow``.
_MARKS: Final = ",;:.()"


def promised_grade(wish: Wish, analysis: Mapping[str, float]) -> str:
    """``24-0-3`` for a wish of 24 % N whose recipe happens to hold 3.04 % K2O.

    A wished minimum is the promise, whatever the recipe holds beyond it. What nobody wished is
    promised only as far as any load keeps it: half UAN 32 and half water is 15.8-0-0, not
    16-0-0, which the first weight on target would break.
    """
    wished = {target.nutrient: target.min for target in wish.targets if target.min}
    sure = {
        key: wished.get(key) or SURE * content_pct(analysis, key) for key in ("N", "P2O5", "K2O")
    }
    # A grade asks for total nitrogen; which form carries it does not matter.
    return grade_of({"N.urea": sure["N"], "P2O5": sure["P2O5"], "K2O": sure["K2O"]})


def product_name(name: str, grade: str) -> str:
    """``Annapolis 24-0-3``: a blend by name and grade, the grade once where the name holds it."""
    words = [word.strip(_MARKS) for word in name.split()]
    return name if not grade or grade in words else f"{name} {grade}"
