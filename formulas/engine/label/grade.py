"""The grade of a blend, N-P2O5-K2O, rounded down as on a label draft of specialty fertilizer."""

from collections.abc import Mapping

from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.label.guarantee import propose


def grade_of(analysis: Mapping[str, float]) -> str:
    """``{"N.urea": 24.0, "K2O": 3.04}`` is ``24-0-3``; a total N beside its forms is ignored."""
    contents = {key: pct for key, pct in analysis.items() if key in ANALYSIS_KEYS}
    draft = propose(contents, kind="specialty", sources=(), density_lb_per_gal=1.0, volume_gal=1.0)
    return draft.grade
