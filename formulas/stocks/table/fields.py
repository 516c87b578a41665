"""What a line of the catalogue table may speak of: one figure of one stock.

A line holds ``code, field, value, unit, source, mark, effective_from``. Besides the fields below
``field`` may be ``traits`` (codes, separated by spaces), ``analysis.<key>`` (percent by weight, 0
removes it), ``metal.<symbol>`` (ppm by weight with the day of the analysis; 0 is a figure, an
empty value removes it) and ``cost`` (with its unit and the day it holds from).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

COLUMNS: Final = ("code", "field", "value", "unit", "source", "mark", "effective_from")
REQUIRED_COLUMNS: Final = ("code", "field", "value")
NEEDED_WHEN_NEW: Final = ("name", "density_lb_per_gal")
TRAITS: Final = "traits"
COST: Final = "cost"
ANALYSIS: Final = "analysis."
METAL: Final = "metal."


class Kind(StrEnum):
    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole number"
    YES_NO = "yes or no"
    DAY = "date"


@dataclass(frozen=True, slots=True)
class StockField:
    """A column of the stock table, and the columns of its source and mark if it has them."""

    name: str
    kind: Kind
    unit: str = ""
    source: str = ""
    mark: str = ""
    optional: bool = False


_FIELDS: Final = (
    StockField("name", Kind.TEXT),
    StockField("derived_from", Kind.TEXT, optional=True),
    StockField(
        "other_origin",
        Kind.TEXT,
        source="other_origin_source",
        mark="other_origin_mark",
        optional=True,
    ),
    StockField(
        "density_lb_per_gal", Kind.NUMBER, "lb/gal", source="density_source", mark="density_mark"
    ),
    StockField("density_temp_f", Kind.NUMBER, "F"),
    StockField(
        "solutes", Kind.TEXT, "%", source="solutes_source", mark="solutes_mark", optional=True
    ),
    StockField("ph_low", Kind.NUMBER, source="ph_source", mark="ph_mark", optional=True),
    StockField("ph_high", Kind.NUMBER, source="ph_source", mark="ph_mark", optional=True),
    StockField(
        "salt_index",
        Kind.NUMBER,
        source="salt_index_source",
        mark="salt_index_mark",
        optional=True,
    ),
    StockField("salt_out_note", Kind.TEXT, optional=True),
    StockField("hazards", Kind.TEXT, source="hazards_source", mark="hazards_mark", optional=True),
    StockField("ppe", Kind.TEXT, optional=True),
    StockField("charging_rank", Kind.WHOLE),
    StockField("min_pct", Kind.NUMBER, "%"),
    StockField("max_pct", Kind.NUMBER, "%"),
    StockField("scale_step_lb", Kind.NUMBER, "lb"),
    StockField("short", Kind.YES_NO),
    StockField("retired_on", Kind.DAY, optional=True),
    StockField("notes", Kind.TEXT, optional=True),
)
FIELDS: Final[Mapping[str, StockField]] = {field.name: field for field in _FIELDS}


def in_text(value: object) -> str:
    """A stored value as a cell: ten digits at most, so that writing and reading agree."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.10g}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return value.replace("\r\n", "\n").strip()
    raise TypeError(f"A {type(value).__name__} has no place in the table.")
