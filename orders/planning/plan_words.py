"""A load's plan in words: on which scale a step is weighed, what its lots hold, how far off is on.

Ticket and pages print the same words.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from formulas.engine.composition import ANALYSIS_KEYS, SHORT_NAMES
from formulas.engine.plant.load import ScaleKind
from orders.frozen.load_plan import LoadPlan, PlannedLot, PlannedWeighing, PlanTank

PLANNED_BEFORE: Final = gettext_lazy(
    "Planned before tolerances: its weights keep every promise as they stand, not every weight"
    " near them."
)
#: Figures of a certificate are told from the typical ones by what they are written to.
_PLACES: Final = 2


def scale_words(tank: PlanTank, step: PlannedWeighing) -> str:
    """Which of a tank's two scales a step is weighed on; empty where there is one."""
    if tank.fine_step_lb is None:
        return ""
    division = house().at_most(step.scale_step_lb, 3)
    says = (
        _("small scale, %(division)s lb")
        if step.scale is ScaleKind.FINE
        else _("main scale, %(division)s lb")
    )
    return says % {"division": division}


def tolerance_words(plan: LoadPlan) -> str:
    """What ± means on this plan, in a sentence."""
    if plan.tolerance_pct is None:
        return str(PLANNED_BEFORE)
    if plan.tolerance_pct > 0:
        return _(
            "On target means within the ± beside the weight: %(pct)s %% of the weight and at least"
            " one division of its scale. Every promise holds for all such weights together."
        ) % {"pct": house().at_most(plan.tolerance_pct, 2)}
    return _(
        "On target means within the ± beside the weight: one division of its scale. Every promise"
        " holds for all such weights together."
    )


def lot_differences(step: PlannedWeighing, lot: PlannedLot) -> tuple[str, ...]:
    """What a lot's certificate says otherwise than the stock's typical figures."""
    return tuple(_differences(step, lot))


def _differences(step: PlannedWeighing, lot: PlannedLot) -> Iterator[str]:
    for key in ANALYSIS_KEYS:
        typical, certified = step.analysis.get(key, 0.0), lot.analysis.get(key, 0.0)
        if typical != certified:
            yield f"{SHORT_NAMES[key]} {_figures(certified, typical, '%')}"
    if lot.density_lb_per_gal != step.density_lb_per_gal:
        figures = _figures(lot.density_lb_per_gal, step.density_lb_per_gal, "lb/gal")
        yield _("density %(figures)s") % {"figures": figures}


def _figures(certified: float, typical: float, unit: str) -> str:
    """``31.6 %, typical 32``: as many places as it takes to tell them apart."""
    for places in range(_PLACES, 7):
        told, usual = house().at_most(certified, places), house().at_most(typical, places)
        if told != usual:
            break
    return _("%(told)s %(unit)s, typical %(usual)s") % {"told": told, "unit": unit, "usual": usual}
