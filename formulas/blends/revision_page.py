"""A saved revision as a page shows it: from the frozen answer, never from today's catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from formulas.blends.answer_rows import AnalysisRow, RecipeRow, analysis_rows, recipe_rows
from formulas.models import BlendRevision


@dataclass(frozen=True, slots=True)
class RevisionPage:
    """What a blend's page prints. Pounds, gallons, percent by weight; dollars."""

    recipe: tuple[RecipeRow, ...]
    analysis: tuple[AnalysisRow, ...]
    warnings: tuple[dict[str, str], ...]
    mass_lb: float
    volume_gal: float
    density_lb_per_gal: float
    cost: Decimal | None
    cost_per_lb: Decimal | None
    cost_per_gal: Decimal | None


def revision_page(revision: BlendRevision, *, with_costs: bool) -> RevisionPage:
    """The frozen answer; without costs, no cost is in the result at all."""
    answer = revision.answer
    totals = answer["totals"]

    def cost(holder: dict[str, Any], key: str) -> Decimal | None:
        return Decimal(holder[key]) if with_costs else None

    return RevisionPage(
        recipe=recipe_rows(answer, with_costs=with_costs),
        analysis=analysis_rows(answer),
        warnings=tuple(answer["warnings"]),
        mass_lb=totals["mass_lb"],
        volume_gal=totals["volume_gal"],
        density_lb_per_gal=totals["density_lb_per_gal"],
        cost=cost(totals, "cost"),
        cost_per_lb=cost(totals, "cost_per_lb"),
        cost_per_gal=cost(totals, "cost_per_gal"),
    )
