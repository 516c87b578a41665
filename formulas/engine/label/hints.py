"""How little is missing: what a touch more of a nutrient would let the label say.

Only near misses are told: less than a tenth of the printed step or of the minimum.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from formulas.engine.label.grade_rules import GradeRule
from formulas.engine.label.model import Hint, LabelBasis
from formulas.engine.label.nitrogen_lines import NitrogenLines
from formulas.engine.label.printed_figures import (
    NOISE,
    ONE_PERCENT,
    digits,
    floored,
    read,
    step,
    text,
)
from formulas.engine.label.rules import LABELS, MINIMUMS, PRIMARY, Kind
from formulas.engine.mark import Mark

#: A near miss is at most this part of a step or a minimum.
_NEAR: Final = 10


def hints(basis: LabelBasis, nitrogen: NitrogenLines, rule: GradeRule) -> Iterable[Hint]:
    """Near misses in printed order."""
    kind = Kind(basis.kind)
    held = {key: read(basis.analysis.get(key, 0.0)) for key in (*PRIMARY, *MINIMUMS)}
    held["N"] = nitrogen.held
    for key in PRIMARY:
        if held[key] <= 0:
            continue
        decimals = rule.decimals((held[key] + NOISE) / ONE_PERCENT, kind)
        after = floored(held[key], decimals) + step(decimals)
        missing = after - held[key]
        if 0 < missing * _NEAR <= step(decimals):
            yield _hint(key, missing, f"would let the label say {text(digits(after))}.")
    if nitrogen.short_in_hundredths:
        yield _hint(
            "N",
            nitrogen.short_in_hundredths,
            f"would let the nitrogen forms of {text(digits(nitrogen.total))} % be printed in "
            f"hundredths; as it is they take {nitrogen.decimals} decimals, more than labels "
            f"usually show ({Mark.COMMON_PRACTICE}). Asking the recipe for "
            f"{text(digits(nitrogen.sure))} % is enough.",
        )
    for key, minimum in MINIMUMS.items():
        least = read(minimum.pct)
        missing = least - held[key]
        if held[key] > 0 and missing > NOISE and missing * _NEAR <= least:
            yield _hint(key, missing, f"would reach the {minimum.pct:g} % it may be guaranteed at.")


def _hint(key: str, missing: int, words: str) -> Hint:
    more = digits(missing)
    return Hint(key, float(more), f"{text(more)} % more {LABELS[key]} {words}")
