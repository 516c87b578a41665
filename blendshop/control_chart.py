"""A control chart as a drawing: points in their order, mean and limits as labelled lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from reportlab.graphics.shapes import Drawing, Polygon, PolyLine

from blendshop.charts import (
    CURVE,
    GRID,
    INK,
    MARK,
    PAPER,
    chart_line,
    chart_text,
    chart_ticks,
    text_room,
)
from blendshop.documents.fonts import BOLD, REGULAR
from blendshop.documents.text import plain
from blendshop.figures.readers import reader

_WIDTH: Final = 380.0
_HEIGHT: Final = 250.0
_TOP, _BOTTOM = 28.0, 40.0
_RADIUS: Final = 2.5
_MARKED_RADIUS: Final = 6.0
_TEXT_HEIGHT: Final = 13.0
#: Of the size of the values: a row of equal ones is not blown up into a mountain.
_LEAST_SPAN: Final = 1e-3
#: Share of the height that the number of a point that is out takes.
_NUMBER_ROOM: Final = 0.12
#: Numbers on the lower axis, and how far apart they may be.
_MOST_NUMBERS: Final = 10
_STEPS: Final = (1, 2, 5, 10, 20, 50, 100, 1000)


class Shape(Enum):
    """A point as it should be, one of a run (hollow), one that is out (full, with its number)."""

    DOT = "dot"
    RUN = "run"
    OUT = "out"


@dataclass(frozen=True, slots=True)
class ChartedPoint:
    """In the unit of the chart."""

    value: float
    shape: Shape = Shape.DOT


@dataclass(frozen=True, slots=True)
class ChartedLimits:
    """Centre and limits; ``lower`` None where there is none, as for ranges."""

    centre: float
    upper: float
    lower: float | None = None


def control_chart(
    points: Sequence[ChartedPoint],
    limits: ChartedLimits | None,
    *,
    title: str,
    places: int,
    first: int = 1,
) -> Drawing:
    """Points numbered from ``first`` on the lower axis; ValueError without any.

    ``places`` are the decimals of the figures beside the lines. Without limits none are drawn.
    """
    if not points:
        raise ValueError("A chart needs at least one point.")
    lines = [] if limits is None else _lines(limits)
    around = _with_room([*(point.value for point in points), *lines], points)
    spare = max(0.0, _LEAST_SPAN * max(abs(value) for value in around) or _LEAST_SPAN) / 2
    ticks = chart_ticks(min(around) - spare, max(around) + spare)
    left = 10 + max(text_room(reader().significant(tick), REGULAR) for tick in ticks)
    written = {value: reader().number(value, places) for value in lines}
    right = 10 + max((text_room(text, BOLD) for text in written.values()), default=4.0)

    def x(place: int) -> float:
        return left + (_WIDTH - left - right) * (place + 0.5) / len(points)

    def y(value: float) -> float:
        share = (value - ticks[0]) / (ticks[-1] - ticks[0])
        return _BOTTOM + (_HEIGHT - _TOP - _BOTTOM) * share

    drawing = Drawing(_WIDTH, _HEIGHT)
    for tick in ticks:
        drawing.add(chart_line(left, y(tick), _WIDTH - right, y(tick), GRID, 0.75))
        drawing.add(chart_text(left - 6, y(tick) - 4, reader().significant(tick), anchor="end"))
    for value, at in zip(lines, _apart([y(value) for value in lines]), strict=True):
        is_centre = limits is not None and value == limits.centre
        width = 1.0 if is_centre else 2.0
        drawing.add(chart_line(left, y(value), _WIDTH - right, y(value), INK, width))
        drawing.add(chart_text(_WIDTH - right + 4, at - 4, written[value], bold=not is_centre))
    flat = [each for place, p in enumerate(points) for each in (x(place), y(p.value))]
    if len(points) > 1:
        drawing.add(PolyLine(flat, strokeColor=CURVE, strokeWidth=1.25, fillColor=None))
    for place, point in enumerate(points):
        drawing.add(_mark(x(place), y(point.value), point.shape))
        if point.shape is Shape.OUT:
            is_high = limits is None or point.value >= limits.centre
            beside = _MARKED_RADIUS + 3 if is_high else -_MARKED_RADIUS - _TEXT_HEIGHT + 2
            number = str(place + first)
            at = y(point.value) + beside
            drawing.add(chart_text(x(place), at, number, anchor="middle", bold=True))
    _number_axis(drawing, {place + first: x(place) for place in range(len(points))})
    drawing.add(chart_text(0, _HEIGHT - 13, plain(title), bold=True))
    return drawing


def _with_room(values: list[float], points: Sequence[ChartedPoint]) -> list[float]:
    """The values, and beyond them room for the numbers of points that are out."""
    if not any(point.shape is Shape.OUT for point in points):
        return values
    room = _NUMBER_ROOM * (max(values) - min(values))
    return [min(values) - room, *values, max(values) + room]


def _lines(limits: ChartedLimits) -> list[float]:
    """From the lowest up, each once."""
    found = {limits.centre, limits.upper} | ({limits.lower} - {None})
    return sorted(value for value in found if value is not None)


def _apart(heights: Sequence[float]) -> list[float]:
    """Where the figures of lines stand, so that none covers another; lowest first."""
    found: list[float] = []
    for height in heights:
        found.append(max(height, found[-1] + _TEXT_HEIGHT) if found else height)
    return found


def _mark(x: float, y: float, shape: Shape) -> Polygon:
    if shape is Shape.DOT:
        r = _RADIUS
        corners = [x - r, y - r, x + r, y - r, x + r, y + r, x - r, y + r]
        return Polygon(corners, fillColor=CURVE, strokeColor=CURVE, strokeWidth=0.5)
    r = _MARKED_RADIUS if shape is Shape.OUT else _MARKED_RADIUS - 1.5
    fill = MARK if shape is Shape.OUT else PAPER
    corners = [x, y - r, x + r, y, x, y + r, x - r, y]
    return Polygon(corners, fillColor=fill, strokeColor=MARK, strokeWidth=1.5)


def _number_axis(drawing: Drawing, places: Mapping[int, float]) -> None:
    """So many of the numbers as have room, evenly."""
    across = list(places.values())
    drawing.add(chart_line(across[0], _BOTTOM - 2, across[-1], _BOTTOM - 2, INK, 1))
    step = next(step for step in _STEPS if len(places) <= _MOST_NUMBERS * step)
    for number, x in places.items():
        if number % step == 0:
            drawing.add(chart_text(x, _BOTTOM - 17, str(number), anchor="middle"))
