"""The contents of a blend as rows that pages print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from formulas.answers.answer import BlendFigures
from formulas.engine.composition import NITROGEN_FORMS


@dataclass(frozen=True, slots=True)
class AnalysisRow:
    """One content in percent by weight; ``is_form`` for a nitrogen form under total nitrogen.

    ``asked`` is what was asked of it in words, empty where nothing was.
    """

    key: str
    pct: float
    is_form: bool
    asked: str = ""


def analysis_rows(
    blend: BlendFigures, asked: Mapping[str, str] | None = None
) -> tuple[AnalysisRow, ...]:
    """The contents of a blend; ``asked`` is what was asked in words, by nutrient."""
    wishes = asked or {}
    return tuple(
        AnalysisRow(key, pct, key in NITROGEN_FORMS, wishes.get(key, ""))
        for key, pct in blend.analysis.items()
    )
