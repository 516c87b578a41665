"""Figures whose source stands beside them in full, as legal citations do."""

from __future__ import annotations

from formulas.reference.facts import Source
from formulas.reference.reading import Row


def cited(row: Row) -> Source:
    """The row's ``citation``, ``mark`` and ``note``."""
    citation = row.text("citation")
    row.values["source"] = [citation]
    return row.source({citation: citation})
