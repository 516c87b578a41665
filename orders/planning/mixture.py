"""The hazard classes of a load by the cut-offs for mixtures, from what it is made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from formulas.engine.law.mixture_hazards import MixtureHazard, Portion, mixture_hazards
from formulas.reference.mixture_hazards import mixture_table
from orders.frozen.load_plan import LoadPlan, PlanFinding, PlannedHeel, PlannedWeighing


def hazards_of(portions: Iterable[Portion]) -> tuple[MixtureHazard, ...]:
    """The classes by the shipped table."""
    return mixture_hazards(portions, mixture_table())


def planned_hazards(plan: LoadPlan) -> tuple[MixtureHazard, ...]:
    """Of a frozen plan by the table of today: plans of before have no finding of it."""
    return hazards_of(portions(plan.steps, plan.heel))


def hazard_findings(
    steps: Iterable[PlannedWeighing], heel: PlannedHeel | None
) -> Iterator[PlanFinding]:
    """What ticket and charging screen say of the load as a whole."""
    for each in hazards_of(portions(steps, heel)):
        found = each.finding
        yield PlanFinding(found.code, found.severity, found.message, found.source)


def portions(
    steps: Iterable[PlannedWeighing], heel: PlannedHeel | None = None
) -> Iterator[Portion]:
    """Percent by weight of the full tank; of a heel only the contents are known."""
    weighed = tuple(steps)
    heel_lb = 0.0 if heel is None else heel.mass_lb
    full_lb = heel_lb + sum(step.weight_lb for step in weighed)
    for step in weighed:
        yield Portion(100 * step.weight_lb / full_lb, step.analysis, frozenset(step.traits))
    if heel is not None:
        yield Portion(100 * heel_lb / full_lb, heel.analysis)
