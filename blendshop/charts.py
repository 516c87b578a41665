"""Charts, drawn once as ReportLab drawings: on paper as they are, on pages as inline SVG.

The site's content policy allows no style attribute and no script, so ``drawing_to_svg`` writes
presentation attributes only. Colour never carries the meaning: every mark has a shape and a
label of its own. Sizes are SVG user units; at 380 across, the text stays readable on a phone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import singledispatch
from typing import Final, Literal
from xml.etree import ElementTree as ET

from django.utils.safestring import SafeString
from reportlab.graphics.shapes import (
    Drawing,
    Group,
    Line,
    Polygon,
    PolyLine,
    Rect,
    Shape,
    String,
)
from reportlab.lib.colors import Color, HexColor

from blendshop.documents.fonts import BOLD, REGULAR, text_width
from blendshop.documents.text import plain
from blendshop.figures.readers import reader
from blendshop.money import money

INK: Final = HexColor("#1b2a2f")
CURVE: Final = HexColor("#1d5c63")  # 7.5:1 on white
GRID: Final = HexColor("#c9cfd1")
MARK: Final = HexColor("#8a5a00")  # 5.7:1 on white
PAPER: Final = HexColor("#ffffff")

_WIDTH: Final = 380.0
_HEIGHT: Final = 250.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 14.0, 28.0, 44.0
_TEXT: Final = 12.0
_MARK_RADIUS: Final = 7.0
_FEWEST_TICKS: Final = 4
_SYSTEM_FONT_ALLOWANCE: Final = 1.35  # browsers' own fonts run wider than the papers' font
_LABEL_HEIGHT: Final = 20.0
_LEAST_SPAN: Final = 0.1  # of the price: a flat curve is not blown up into a mountain
_BAR_ROW: Final = 36.0
_BAR_HEIGHT: Final = 10.0
_Anchor = Literal["start", "middle", "end"]
_UID: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]*\Z")


@dataclass(frozen=True, slots=True)
class PricePoint:
    """Price per gallon of the cheapest blend with a slow-release share, percent of total N."""

    slow_release_pct: float
    price_per_gal: Decimal


@dataclass(frozen=True, slots=True)
class RecipeBar:
    """A stock's share of a blend, percent by weight."""

    name: str
    pct: float


@dataclass(frozen=True, slots=True)
class AmountBar:
    """A named amount: ``figure`` is how it is written, ``amount`` how long its bar is."""

    name: str
    figure: str
    amount: float


def slow_release_price_chart(
    points: Sequence[PricePoint],
    current: PricePoint | None,
    y_label: str = "Price per gal",
    currency: str = "USD",
) -> Drawing:
    """Price against slow-release share, with today's blend as a labelled diamond.

    Points are drawn in order of share. The price axis need not start at zero; its ticks say so.
    Raises ValueError on a share outside 0 to 100 or without any point.
    """
    known = [*points, current] if current is not None else list(points)
    if not known:
        raise ValueError("A chart needs at least one point.")
    for point in known:
        if not 0 <= point.slow_release_pct <= 100:
            raise ValueError(f"Slow-release share {point.slow_release_pct} is not within 0 to 100.")
        if not point.price_per_gal.is_finite():
            raise ValueError(f"{point.price_per_gal} is not a price.")
    plot = _Plot.around([(p.slow_release_pct, float(p.price_per_gal)) for p in known], currency)
    drawing = Drawing(_WIDTH, _HEIGHT)
    _draw_axes(drawing, plot, y_label, currency)
    curve = [
        (plot.x(p.slow_release_pct), plot.y(float(p.price_per_gal)))
        for p in sorted(points, key=lambda p: p.slow_release_pct)
    ]
    if len(curve) > 1:
        flat = [value for place in curve for value in place]
        drawing.add(PolyLine(flat, strokeColor=CURVE, strokeWidth=2.5, fillColor=None))
    if current is not None:
        _draw_current(drawing, plot, current, curve, currency)
    return drawing


def price_curve_in_words(
    points: Sequence[PricePoint], current: PricePoint | None, currency: str = "USD"
) -> str:
    """The chart as a sentence, for its description."""
    ends = sorted(points, key=lambda point: point.slow_release_pct)
    parts = [_point_in_words(point, currency) for point in dict.fromkeys((*ends[:1], *ends[-1:]))]
    sentence = f"Price runs from {' to '.join(parts)}." if len(parts) > 1 else ""
    if current is not None:
        sentence += f" This blend: {_point_in_words(current, currency)}."
    return sentence.strip()


def recipe_bars(bars: Sequence[RecipeBar]) -> Drawing:
    """One bar a stock, name above it and percent at the right; full width is 100 %."""
    height = max(1, len(bars)) * _BAR_ROW
    drawing = Drawing(_WIDTH, height)
    for index, bar in enumerate(bars):
        if not 0 <= bar.pct <= 100:
            raise ValueError(f"Share {bar.pct} of {bar.name} is not within 0 to 100.")
        top = height - index * _BAR_ROW
        figure = reader().percent(bar.pct, 2)
        name = _fitted(plain(bar.name), _WIDTH - text_room(figure, BOLD) - 8)
        drawing.add(chart_text(0, top - 14, name))
        drawing.add(chart_text(_WIDTH, top - 14, figure, anchor="end", bold=True))
        y = top - 20 - _BAR_HEIGHT
        drawing.add(_box(0, y, _WIDTH, _BAR_HEIGHT, fill=PAPER, stroke=GRID))
        drawing.add(_box(0, y, _WIDTH * bar.pct / 100, _BAR_HEIGHT, fill=CURVE, stroke=None))
    return drawing


def amount_bars(bars: Sequence[AmountBar]) -> Drawing:
    """One bar an amount, name above it and figure at the right; what is below zero goes left.

    The largest amount fills what zero leaves. Raises ValueError on an amount that is not finite.
    """
    if not all(math.isfinite(bar.amount) for bar in bars):
        raise ValueError("A bar has a length.")
    low = min((bar.amount for bar in bars), default=0.0)
    low, high = min(low, 0.0), max([bar.amount for bar in bars] + [0.0])
    scale = _WIDTH / ((high - low) or 1.0)
    zero = -low * scale
    height = max(1, len(bars)) * _BAR_ROW
    drawing = Drawing(_WIDTH, height)
    for index, bar in enumerate(bars):
        top = height - index * _BAR_ROW
        name = _fitted(plain(bar.name), _WIDTH - text_room(bar.figure, BOLD) - 8)
        drawing.add(chart_text(0, top - 14, name))
        drawing.add(chart_text(_WIDTH, top - 14, bar.figure, anchor="end", bold=True))
        y, length = top - 20 - _BAR_HEIGHT, abs(bar.amount) * scale
        left, fill = (zero, CURVE) if bar.amount >= 0 else (zero - length, MARK)
        drawing.add(_box(left, y, length, _BAR_HEIGHT, fill=fill, stroke=None))
    drawing.add(chart_line(zero, 0, zero, height - 18, INK, 1))
    return drawing


# --------------------------------------------------------------------- price against share


@dataclass(frozen=True, slots=True)
class _Plot:
    """Where the data lies and how it maps to the drawing."""

    left: float  # where the price axis stands, clear of its widest label
    x_ticks: tuple[float, ...]
    y_ticks: tuple[float, ...]

    @classmethod
    def around(cls, points: Sequence[tuple[float, float]], currency: str) -> _Plot:
        xs, ys = [x for x, _ in points], [y for _, y in points]
        least = max(abs(max(ys)) * _LEAST_SPAN, 0.1)
        spare = max(0.0, least - (max(ys) - min(ys))) / 2
        y_ticks = chart_ticks(min(ys) - spare, max(ys) + spare)
        widest = max(text_room(_tick_label(tick, currency), REGULAR) for tick in y_ticks)
        return cls(max(_LEFT, widest + 10), chart_ticks(0.0, max(10.0, *xs)), y_ticks)

    def x(self, share: float) -> float:
        room = _WIDTH - self.left - _RIGHT
        return self.left + room * (share - self.x_ticks[0]) / (self.x_ticks[-1] - self.x_ticks[0])

    def y(self, price: float) -> float:
        room = _HEIGHT - _TOP - _BOTTOM
        return _BOTTOM + room * (price - self.y_ticks[0]) / (self.y_ticks[-1] - self.y_ticks[0])


def chart_ticks(low: float, high: float) -> tuple[float, ...]:
    """Round values (1, 2 or 5 times a power of ten apart) from below ``low`` to above ``high``."""
    raw = (high - low) / _FEWEST_TICKS
    power = 10.0 ** math.floor(math.log10(raw))
    step = max(factor * power for factor in (1, 2, 5) if factor * power <= raw * (1 + 1e-9))
    first = math.floor(low / step + 1e-9)
    last = math.ceil(high / step - 1e-9)
    return tuple(round(n * step, 10) for n in range(first, max(last, first + 1) + 1))


def _tick_label(price: float, currency: str) -> str:
    return reader().money(money(Decimal(repr(price))), currency)


def _draw_axes(drawing: Drawing, plot: _Plot, y_label: str, currency: str) -> None:
    for price in plot.y_ticks:
        y = plot.y(price)
        drawing.add(chart_line(plot.left, y, _WIDTH - _RIGHT, y, GRID, 0.75))
        drawing.add(chart_text(plot.left - 6, y - 4, _tick_label(price, currency), anchor="end"))
    for share in plot.x_ticks:
        x = plot.x(share)
        drawing.add(chart_line(x, _BOTTOM, x, _BOTTOM - 4, INK, 1))
        drawing.add(chart_text(x, _BOTTOM - 18, reader().significant(share), anchor="middle"))
    drawing.add(chart_line(plot.left, _BOTTOM, _WIDTH - _RIGHT, _BOTTOM, INK, 1))
    drawing.add(chart_text(0, _HEIGHT - 13, plain(y_label), bold=True))
    caption = "Slow-release share, % of total N"
    drawing.add(chart_text(_WIDTH - _RIGHT, 6, caption, anchor="end", bold=True))


def _draw_current(
    drawing: Drawing,
    plot: _Plot,
    current: PricePoint,
    curve: Sequence[tuple[float, float]],
    currency: str,
) -> None:
    x, y = plot.x(current.slow_release_pct), plot.y(float(current.price_per_gal))
    r = _MARK_RADIUS
    label = f"This blend: {_point_in_words(current, currency)}"
    width = text_room(label, BOLD) + 8
    left = min(max(plot.left + 2, x + r - width), _WIDTH - _RIGHT - width)
    bottom = _free_place(left, left + width, [*curve, (x, y - r), (x, y + r)])
    near_edge = bottom if bottom > y else bottom + _LABEL_HEIGHT
    drawing.add(chart_line(x, y, x, near_edge, MARK, 1))
    corners = [x, y - r, x + r, y, x, y + r, x - r, y]
    drawing.add(Polygon(corners, fillColor=MARK, strokeColor=PAPER, strokeWidth=1.5))
    drawing.add(_box(left, bottom, width, _LABEL_HEIGHT, fill=PAPER, stroke=MARK))
    drawing.add(chart_text(left + width / 2, bottom + 6, label, anchor="middle", bold=True))


def _free_place(left: float, right: float, places: Sequence[tuple[float, float]]) -> float:
    """Bottom edge of a label that covers nothing drawn between ``left`` and ``right``.

    Above what is there, or below it where the top of the chart is too near.
    """
    step = _WIDTH / 10  # a neighbour outside the span may still cross its corner
    taken = [y for x, y in places if left - step <= x <= right + step]
    above = max(taken) + 5
    if above + _LABEL_HEIGHT <= _HEIGHT - _TOP / 2 - _TEXT:
        return above
    return max(_BOTTOM + 4, min(taken) - 5 - _LABEL_HEIGHT)


def _point_in_words(point: PricePoint, currency: str) -> str:
    price = reader().money(money(point.price_per_gal), currency)
    return f"{price} at {reader().significant(point.slow_release_pct, 3)}%"


# ------------------------------------------------------------------------------- drawing


def chart_text(
    x: float, y: float, text: str, *, anchor: _Anchor = "start", bold: bool = False
) -> String:
    """One line of text in the charts' size."""
    font = BOLD if bold else REGULAR
    return String(x, y, text, textAnchor=anchor, fontName=font, fontSize=_TEXT, fillColor=INK)


def chart_line(x1: float, y1: float, x2: float, y2: float, color: Color, width: float) -> Line:
    """A straight line; ``width`` in units of the drawing."""
    return Line(x1, y1, x2, y2, strokeColor=color, strokeWidth=width)


def _box(
    x: float, y: float, width: float, height: float, *, fill: Color, stroke: Color | None
) -> Rect:
    box = Rect(x, y, width, height)
    box.fillColor, box.strokeColor, box.strokeWidth = fill, stroke, 1
    return box


def text_room(text: str, font: str) -> float:
    """The width a line of text may take on a page, whatever font the browser has."""
    return text_width(text, font, _TEXT) * _SYSTEM_FONT_ALLOWANCE


def _fitted(text: str, room: float) -> str:
    """Shortened with an ellipsis; the full name stands in the table beside the chart."""
    if text_room(text, REGULAR) <= room:
        return text
    while text and text_room(f"{text}…", REGULAR) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


# ----------------------------------------------------------------------------------- SVG


def drawing_to_svg(drawing: Drawing, title: str, desc: str, uid: str) -> SafeString:
    """Inline SVG without style attributes or scripts, named by ``title`` and ``desc``.

    ``uid`` must be unique on the page; ValueError if it cannot be an id. All text is escaped.
    The image fills the width of its container (class ``chart``) and keeps its proportions.
    """
    if not _UID.match(uid):
        raise ValueError(f"{uid!r} cannot be an id.")
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "class": "chart",
            "viewBox": f"0 0 {drawing.width:g} {drawing.height:g}",
            "width": "100%",
            "role": "img",
            "aria-labelledby": f"{uid}-title {uid}-desc",
            "font-family": "system-ui, sans-serif",
        },
    )
    ET.SubElement(root, "title", {"id": f"{uid}-title"}).text = plain(title)
    ET.SubElement(root, "desc", {"id": f"{uid}-desc"}).text = plain(desc)
    for shape in drawing.contents:
        _add(shape, root, drawing.height)
    return SafeString(ET.tostring(root, encoding="unicode"))


@singledispatch
def _add(shape: Shape, parent: ET.Element, height: float) -> None:
    """Append ``shape`` to ``parent``; y grows downwards in SVG, upwards in ReportLab."""
    raise TypeError(f"A {type(shape).__name__} has no SVG form here.")


@_add.register
def _(shape: Group, parent: ET.Element, height: float) -> None:
    group = ET.SubElement(parent, "g")
    for part in shape.contents:
        _add(part, group, height)


@_add.register
def _(shape: Line, parent: ET.Element, height: float) -> None:
    ends = {"x1": shape.x1, "y1": height - shape.y1, "x2": shape.x2, "y2": height - shape.y2}
    ET.SubElement(parent, "line", _numbers(ends) | _paint(None, shape))


@_add.register
def _(shape: Rect, parent: ET.Element, height: float) -> None:
    top = height - shape.y - shape.height
    sides = {"x": shape.x, "y": top, "width": shape.width, "height": shape.height}
    ET.SubElement(parent, "rect", _numbers(sides) | _paint(shape.fillColor, shape))


@_add.register
def _(shape: PolyLine, parent: ET.Element, height: float) -> None:
    points = {"points": _points(shape.points, height), "stroke-linejoin": "round"}
    ET.SubElement(parent, "polyline", points | _paint(None, shape))


@_add.register
def _(shape: Polygon, parent: ET.Element, height: float) -> None:
    points = {"points": _points(shape.points, height)}
    ET.SubElement(parent, "polygon", points | _paint(shape.fillColor, shape))


@_add.register
def _(shape: String, parent: ET.Element, height: float) -> None:
    place = _numbers({"x": shape.x, "y": height - shape.y, "font-size": shape.fontSize})
    looks = {
        "text-anchor": shape.textAnchor,
        "font-weight": "700" if shape.fontName == BOLD else "400",
        "fill": _hex(shape.fillColor),
    }
    ET.SubElement(parent, "text", place | looks).text = shape.text


def _paint(fill: Color | None, shape: Line | Rect | PolyLine | Polygon) -> dict[str, str]:
    paint = {"fill": _hex(fill), "stroke": _hex(shape.strokeColor)}
    if shape.strokeColor is not None:
        paint["stroke-width"] = f"{shape.strokeWidth:g}"
    return paint


def _hex(color: Color | None) -> str:
    return "none" if color is None else f"#{color.hexval()[2:]}"


def _numbers(values: dict[str, float]) -> dict[str, str]:
    return {name: f"{round(value, 2):g}" for name, value in values.items()}


def _points(flat: Sequence[float], height: float) -> str:
    pairs = zip(flat[::2], flat[1::2], strict=True)
    return " ".join(f"{round(x, 2):g},{round(height - y, 2):g}" for x, y in pairs)
