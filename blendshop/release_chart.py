"""The release band as a drawing: the published range shaded, the usual rate as a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from reportlab.graphics.shapes import Drawing, Polygon, PolyLine
from reportlab.lib.colors import HexColor

from blendshop.charts import (
    CURVE,
    GRID,
    INK,
    chart_line,
    chart_text,
    chart_ticks,
    text_room,
)
from blendshop.documents.fonts import BOLD
from blendshop.figures.readers import reader

BAND: Final = HexColor("#cfe0e0")
_WIDTH: Final = 380.0
_HEIGHT: Final = 250.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 14.0, 28.0, 44.0
_WEEK_STEP: Final = 2


@dataclass(frozen=True, slots=True)
class BandPoint:
    """Pounds of N per 1000 sq ft released by the end of a week: range and usual rate."""

    week: int
    low_lb: float
    usual_lb: float
    high_lb: float


def release_band_chart(points: Sequence[BandPoint], applied_lb: float) -> Drawing:
    """The band over the weeks, with the applied nitrogen as a dashed line on top.

    Raises ValueError with fewer than two points, without nitrogen, or when an edge lies wrong.
    """
    if len(points) < 2 or not applied_lb > 0:
        raise ValueError("A band needs two points and some nitrogen.")
    for point in points:
        if not 0 <= point.low_lb <= point.usual_lb + 1e-9 <= point.high_lb + 2e-9:
            raise ValueError(f"Week {point.week} lies outside its own band.")
    ticks = chart_ticks(0.0, applied_lb)
    top_lb, last_week = ticks[-1], points[-1].week

    def x(week: float) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * week / last_week

    def y(lb: float) -> float:
        return _BOTTOM + (_HEIGHT - _TOP - _BOTTOM) * lb / top_lb

    drawing = Drawing(_WIDTH, _HEIGHT)
    there = [value for p in points for value in (x(p.week), y(p.high_lb))]
    back = [value for p in reversed(points) for value in (x(p.week), y(p.low_lb))]
    drawing.add(Polygon([*there, *back], fillColor=BAND, strokeColor=CURVE, strokeWidth=0.75))
    for lb in ticks:
        drawing.add(chart_line(_LEFT, y(lb), _WIDTH - _RIGHT, y(lb), GRID, 0.75))
        drawing.add(chart_text(_LEFT - 6, y(lb) - 4, reader().significant(lb), anchor="end"))
    for week in range(0, last_week + 1, _WEEK_STEP):
        drawing.add(chart_line(x(week), _BOTTOM, x(week), _BOTTOM - 4, INK, 1))
        drawing.add(chart_text(x(week), _BOTTOM - 18, f"{week}", anchor="middle"))
    drawing.add(chart_line(_LEFT, _BOTTOM, _WIDTH - _RIGHT, _BOTTOM, INK, 1))
    middle = [value for p in points for value in (x(p.week), y(p.usual_lb))]
    drawing.add(PolyLine(middle, strokeColor=CURVE, strokeWidth=2.5, fillColor=None))
    drawing.add(chart_line(_LEFT, y(applied_lb), _WIDTH - _RIGHT, y(applied_lb), INK, 1.5))
    applied = f"applied: {reader().significant(applied_lb, 2)} lb"
    room = text_room(applied, BOLD)
    above = y(applied_lb) + 5 if y(applied_lb) + 18 < _HEIGHT - 14 else y(applied_lb) - 15
    drawing.add(chart_text(max(_LEFT, _WIDTH - _RIGHT - room), above, applied, bold=True))
    drawing.add(chart_text(0, _HEIGHT - 13, "N released, lb per 1000 sq ft", bold=True))
    drawing.add(chart_text(_WIDTH - _RIGHT, 6, "Weeks after spraying", anchor="end", bold=True))
    return drawing


def release_in_words(points: Sequence[BandPoint], applied_lb: float) -> str:
    """The band as sentences, for its description: every fourth week."""
    number = partial(reader().number, places=2)
    parts = [
        f"by week {p.week} between {number(p.low_lb)} and {number(p.high_lb)} lb"
        for p in points
        if p.week and p.week % 4 == 0
    ]
    return f"Of {number(applied_lb)} lb N per 1000 sq ft are released {', '.join(parts)}."
