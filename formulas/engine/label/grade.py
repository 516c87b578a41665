"""The grade of a blend, N-P2O5-K2O, by its contents rounded down as for specialty fertilizer.

What the product is called. A label of this very analysis may say a step less nitrogen, where its
forms rounded down do not carry the total (``nitrogen_lines``); a planned load sees to it that they
do.
"""

from collections.abc import Mapping

from formulas.engine.composition import NITROGEN_FORMS
from formulas.engine.label.grade_rules import UNIFORM
from formulas.engine.label.nitrogen_lines import grade_figure
from formulas.engine.label.printed_figures import digits, read, read_form, text
from formulas.engine.label.rules import PRIMARY, Kind


def grade_of(analysis: Mapping[str, float]) -> str:
    """``{"N.urea": 24.0, "K2O": 3.04}`` is ``24-0-3``; a total N beside its forms is ignored."""
    contents = {key: read(analysis.get(key, 0.0)) for key in PRIMARY}
    contents["N"] = sum(read_form(analysis.get(form, 0.0)) for form in NITROGEN_FORMS)
    figures = (grade_figure(contents[key], UNIFORM, Kind.SPECIALTY) for key in PRIMARY)
    return "-".join(text(digits(figure)) for figure in figures)
