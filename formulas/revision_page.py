"""A saved revision as a page shows it: from the frozen answer, never from today's catalogue."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from formulas.engine.composition import NITROGEN_FORMS
from formulas.models import BlendRevision


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """One stock of the recipe; ``cost`` is None for those who may not see costs."""

    code: str
    name: str
    pct: float
    lb: float
    gal: float
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class AnalysisRow:
    """One content; nitrogen forms stand under total nitrogen."""

    key: str
    pct: float
    is_form: bool


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
        recipe=tuple(
            RecipeRow(
                line["code"], line["name"], line["pct"], line["lb"], line["gal"], cost(line, "cost")
            )
            for line in answer["recipe"]
        ),
        analysis=tuple(
            AnalysisRow(key, pct, key in NITROGEN_FORMS) for key, pct in answer["analysis"].items()
        ),
        warnings=tuple(answer["warnings"]),
        mass_lb=totals["mass_lb"],
        volume_gal=totals["volume_gal"],
        density_lb_per_gal=totals["density_lb_per_gal"],
        cost=cost(totals, "cost"),
        cost_per_lb=cost(totals, "cost_per_lb"),
        cost_per_gal=cost(totals, "cost_per_gal"),
    )
