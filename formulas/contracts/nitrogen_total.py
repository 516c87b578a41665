"""A total nitrogen that comes beside its forms: accepted where it agrees, never stored."""

from __future__ import annotations

from typing import Final

from formulas.contracts.strict_json import Refusals
from formulas.engine.composition import NITROGEN_FORMS, content_pct

#: A total N beside its forms may miss their sum by what rounding explains.
N_TOLERANCE_PCT: Final = 0.01


def forms_only(analysis: dict[str, float], refusals: Refusals) -> dict[str, float]:
    """The analysis without a total N that its forms bear out, as a formulation's answer has it.

    A total without forms is left for the engine to refuse.
    """
    total = analysis.get("N")
    if total is None or not any(form in analysis for form in NITROGEN_FORMS):
        return analysis
    forms = {key: pct for key, pct in analysis.items() if key != "N"}
    summed = content_pct(forms, "N")
    if abs(total - summed) > N_TOLERANCE_PCT:
        refusals.add(
            "analysis.N", f"Is {total:g} %, but the nitrogen forms add up to {summed:g} %."
        )
    return forms
