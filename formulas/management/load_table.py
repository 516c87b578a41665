"""A planned load as text for a terminal."""

from collections.abc import Iterable

from formulas.answers.answer import Notice
from formulas.answers.load import LoadAnswer, PlannedStep
from formulas.contracts.load_plans import LoadPlan
from formulas.engine.composition import NAMES, NITROGEN_FORMS
from formulas.management.answer_table import answer_table


def load_table(plan: LoadPlan) -> str:
    """The weighings and what is sure of them, then the label; or what is in the way."""
    if plan.load is None:
        lines = [] if plan.findings else [answer_table(plan.answer)]
        return "\n".join([*lines, *_findings(plan.findings)])
    return "\n".join(_planned(plan.load))


def _planned(load: LoadAnswer) -> Iterable[str]:
    yield f"{'Stock':<14} {'Weigh, lb':>12} {'on target within, lb':>22}  Scale"
    for step in load.steps:
        weight, within = _divided(step.weight_lb, step), _divided(step.tolerance_lb, step)
        yield (f"{step.code:<14} {weight:>12} {within:>22}  {step.scale}, {step.division_lb:g} lb")
    yield (
        f"In the tank {load.volume_gal:,.1f} gal (at least {load.least_gal:,.1f}), "
        f"{load.net_weight_lb:,.1f} lb, {load.density_lb_per_gal:.3f} lb/gal"
    )
    yield (
        f"Tolerance {load.tolerance_pct:g} % of each weight, at least one division; it costs "
        f"${load.room_cost_per_gal} per gal. Cost ${load.cost}."
    )
    yield ""
    yield f"{'Analysis, percent by weight':<44} {'aimed':>9} {'least':>9} {'most':>9}"
    for key, pct in load.analysis.items():
        indent = "    " if key in NITROGEN_FORMS else "  "
        least, most = load.least_pct.get(key, 0.0), load.most_pct.get(key, 0.0)
        yield f"{indent + NAMES[key]:<44} {pct:>9.4f} {least:>9.4f} {most:>9.4f}"
    yield ""
    yield load.label.text
    yield load.label.caution
    yield from _findings(load.findings)


def _divided(weight_lb: float, step: PlannedStep) -> str:
    """A weight with the digits of its scale."""
    digits = max(0, len(f"{step.division_lb:.10f}".rstrip("0").split(".")[1]))
    return f"{weight_lb:,.{digits}f}"


def _findings(findings: Iterable[Notice]) -> Iterable[str]:
    for finding in findings:
        yield f"[{finding.severity}] {finding.message} ({finding.source})"
