"""Rows of a solved answer as pages print them: a recipe's stocks and its contents."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from formulas.engine.composition import NAMES, NITROGEN_FORMS


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """One stock of a recipe; ``cost`` is None for those who may not see costs."""

    code: str
    name: str
    pct: float
    lb: float
    gal: float
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class AnalysisRow:
    """One content in percent by weight; ``is_form`` for a nitrogen form under total nitrogen.

    ``asked`` is what was asked of it in words, empty where nothing was.
    """

    key: str
    name: str
    pct: float
    is_form: bool
    asked: str = ""


def recipe_rows(answer: Mapping[str, Any], *, with_costs: bool) -> tuple[RecipeRow, ...]:
    """The stocks of an answer of the contract; without costs, none is in the rows at all."""
    return tuple(
        RecipeRow(
            line["code"],
            line["name"],
            line["pct"],
            line["lb"],
            line["gal"],
            Decimal(line["cost"]) if with_costs else None,
        )
        for line in answer["recipe"]
    )


def analysis_rows(
    answer: Mapping[str, Any], asked: Mapping[str, str] | None = None
) -> tuple[AnalysisRow, ...]:
    """The contents of an answer; ``asked`` is what was asked in words, by nutrient."""
    wishes = asked or {}
    return tuple(
        AnalysisRow(key, NAMES[key], pct, key in NITROGEN_FORMS, wishes.get(key, ""))
        for key, pct in answer["analysis"].items()
    )
