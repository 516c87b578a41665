"""What something cost through time: a cost holds until the next one, so the line goes in steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.conf import settings
from reportlab.graphics.shapes import Drawing, PolyLine

from blendshop.charts import CURVE, GRID, INK, chart_line, chart_text, chart_ticks, text_room
from blendshop.documents.fonts import REGULAR
from blendshop.figures.readers import reader
from blendshop.money import unit_price

_WIDTH: Final = 380.0
_HEIGHT: Final = 220.0
_RIGHT, _TOP, _BOTTOM = 14.0, 14.0, 34.0
_MOST_LABELS: Final = 6
_LEAST_SPAN: Final = 0.1  # of the cost: a small move is not blown up into a mountain


@dataclass(frozen=True, slots=True)
class CostPoint:
    """Dollars per pound from a day on."""

    day: date
    per_lb: Decimal


def cost_steps_chart(points: Sequence[CostPoint], end: date) -> Drawing:
    """Costs from the first point's day to ``end``; the cost axis need not start at zero.

    Raises ValueError without a point, with days out of order, or with an end before the last.
    """
    if not points:
        raise ValueError("A line of costs needs at least one cost.")
    days = [point.day for point in points]
    if days != sorted(set(days)) or end <= days[-1]:
        raise ValueError("The days of costs follow each other, and the end lies behind the last.")
    costs = [float(point.per_lb) for point in points]
    spare = max(0.0, max(abs(max(costs)) * _LEAST_SPAN, 0.001) - (max(costs) - min(costs))) / 2
    ticks = chart_ticks(max(0.0, min(costs) - spare), max(costs) + spare)
    labels = [_written(tick) for tick in ticks]
    left = max(text_room(label, REGULAR) for label in labels) + 10
    whole = (end - days[0]).days

    def x(day: date) -> float:
        return left + (_WIDTH - left - _RIGHT) * (day - days[0]).days / whole

    def y(cost: float) -> float:
        room = _HEIGHT - _TOP - _BOTTOM
        return _BOTTOM + room * (cost - ticks[0]) / (ticks[-1] - ticks[0])

    drawing = Drawing(_WIDTH, _HEIGHT)
    every = 1 + (len(ticks) - 1) // _MOST_LABELS
    for tick, label in list(zip(ticks, labels, strict=True))[::every]:
        drawing.add(chart_line(left, y(tick), _WIDTH - _RIGHT, y(tick), GRID, 0.75))
        drawing.add(chart_text(left - 6, y(tick) - 4, label, anchor="end"))
    steps = []
    for day, until, cost in zip(days, [*days[1:], end], costs, strict=True):
        steps += [x(day), y(cost), x(until), y(cost)]
    drawing.add(PolyLine(steps, strokeColor=CURVE, strokeWidth=2.5, fillColor=None))
    drawing.add(chart_line(left, _BOTTOM, _WIDTH - _RIGHT, _BOTTOM, INK, 1))
    drawing.add(chart_text(left, 10, reader().date(days[0])))
    drawing.add(chart_text(_WIDTH - _RIGHT, 10, reader().date(end), anchor="end"))
    return drawing


def _written(cost: float) -> str:
    return reader().unit_price(unit_price(Decimal(repr(cost))), settings.CURRENCY)
