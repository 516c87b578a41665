"""How little is missing: what a touch more of a nutrient would let the label say.

Only near misses are told: less than a tenth of the printed step or of the minimum.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS
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
from formulas.engine.label.rules import (
    ASKED_ONLY,
    FORM_DECIMALS,
    LABELS,
    MINIMUMS,
    PRIMARY,
    Kind,
)

#: A near miss is at most this part of a step or a minimum.
_NEAR: Final = 10


def hints(basis: LabelBasis, nitrogen: NitrogenLines, rule: GradeRule) -> Iterable[Hint]:
    """Near misses in printed order; a wished figure that is printed misses nothing."""
    kind = Kind(basis.kind)
    held = {key: read(basis.analysis.get(key, 0.0)) for key in (*PRIMARY, *MINIMUMS)}
    held["N"] = nitrogen.held
    for key in PRIMARY:
        if held[key] <= 0:
            continue
        if key == "N" and nitrogen.short:
            yield _of_forms(nitrogen, sum(basis.analysis.get(f, 0) > 0 for f in NITROGEN_FORMS))
            continue
        wish = read(basis.promised.get(key, 0.0))
        if 0 < wish <= held[key] + NOISE:
            continue
        decimals = rule.decimals((held[key] + NOISE) / ONE_PERCENT, kind)
        after = floored(held[key], decimals) + step(decimals)
        missing = after - (_lifts(nitrogen) if key == "N" else held[key])
        if 0 < missing * _NEAR <= step(decimals):
            yield _hint(key, missing, f"would let the label say {text(digits(after))}.")
    for key, minimum in MINIMUMS.items():
        if key in ASKED_ONLY and not basis.promised.get(key):
            continue
        least = read(minimum.pct)
        missing = least - held[key]
        if held[key] > 0 and missing > NOISE and missing * _NEAR <= least:
            yield _hint(key, missing, f"would reach the {minimum.pct:g} % it may be guaranteed at.")


def _of_forms(nitrogen: NitrogenLines, forms: int) -> Hint:
    """So many forms, each rounded down, do not carry the total that is there."""
    sure = nitrogen.within_reach + forms * step(FORM_DECIMALS)
    return _hint(
        "N",
        nitrogen.short,
        f"in one of its forms would let the label say {text(digits(nitrogen.within_reach))}: "
        f"rounded down to hundredths, the forms carry {text(digits(nitrogen.carried))} %. Asking "
        f"the recipe for {text(digits(sure))} % is enough.",
    )


def _lifts(nitrogen: NitrogenLines) -> int:
    """What the printed total rises from: all of a single form, else the forms rounded down."""
    return nitrogen.held if len(nitrogen.forms) == 1 else nitrogen.carried


def _hint(key: str, missing: int, words: str) -> Hint:
    more = digits(missing)
    return Hint(key, float(more), f"{text(more)} % more {LABELS[key]} {words}")
