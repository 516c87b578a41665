"""A control chart as it is drawn: lines at their values, outliers with their numbers."""

import xml.etree.ElementTree as ET

import pytest

from blendshop.charts import drawing_to_svg
from blendshop.control_chart import ChartedLimits, ChartedPoint, Shape, control_chart

SVG = "{http://www.w3.org/2000/svg}"


def _svg(points: list[ChartedPoint], limits: ChartedLimits | None, first: int = 1) -> ET.Element:
    drawing = control_chart(points, limits, title="Potash, %", places=2, first=first)
    return ET.fromstring(drawing_to_svg(drawing, "Potash", "words", uid="chart"))  # noqa: S314 - our own


def _texts(root: ET.Element) -> dict[str, float]:
    return {each.text or "": float(each.attrib["y"]) for each in root.findall(f"{SVG}text")}


def test_limits_stand_at_their_values_and_an_outlier_carries_its_number() -> None:
    values = [24.0, 24.1, 23.9, 24.0, 24.1, 24.0, 24.9, 23.9, 24.0, 24.1, 24.0]
    points = [ChartedPoint(value, Shape.OUT if value > 24.5 else Shape.DOT) for value in values]
    root = _svg(points, ChartedLimits(24.09, 24.85, 23.33))
    texts = _texts(root)
    assert texts["24.85"] < texts["24.09"] < texts["23.33"]  # y grows downwards
    (line,) = root.findall(f"{SVG}polyline")
    drawn = [pair.split(",") for pair in line.attrib["points"].split()]
    assert len(drawn) == len(values)
    assert texts["7"] < float(drawn[6][1]) < texts["24.85"]  # above its point, beyond the limit
    assert len(root.findall(f"{SVG}polygon")) == len(values)


def test_without_limits_no_line_is_claimed() -> None:
    with_limits = _svg([ChartedPoint(5.0), ChartedPoint(6.0)], ChartedLimits(5.5, 7.0))
    without = _svg([ChartedPoint(5.0), ChartedPoint(6.0)], None)
    assert "7.00" in _texts(with_limits)
    assert not {"5.50", "7.00"} & _texts(without).keys()


def test_equal_values_and_a_single_point_can_be_drawn() -> None:
    assert _svg([ChartedPoint(0.0)], None).findall(f"{SVG}polygon")
    root = _svg([ChartedPoint(24.0)] * 9, ChartedLimits(24.0, 24.0, 24.0), first=2)
    assert {"2", "10"} <= _texts(root).keys()


def test_a_chart_without_points_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        control_chart([], None, title="", places=2)
