"""The release band: what is drawn lies where the figures say."""

import re
import xml.etree.ElementTree as ET

import pytest

from blendshop.charts import drawing_to_svg
from blendshop.release_chart import BandPoint, release_band_chart, release_in_words

POINTS = [BandPoint(0, 0.1, 0.1, 0.1), BandPoint(8, 0.3, 0.5, 0.6), BandPoint(16, 0.5, 0.7, 0.8)]
SVG = "{http://www.w3.org/2000/svg}"


def _svg(points: list[BandPoint], applied: float = 0.8) -> ET.Element:
    drawing = release_band_chart(points, applied)
    return ET.fromstring(drawing_to_svg(drawing, "Band", "words", uid="band"))  # noqa: S314 - our own


def _pairs(element: ET.Element) -> list[tuple[float, float]]:
    flat = [float(x) for x in re.split(r"[ ,]", element.attrib["points"])]
    return list(zip(flat[::2], flat[1::2], strict=True))


def test_the_line_runs_inside_its_band_and_rises_to_the_right() -> None:
    root = _svg(POINTS)
    (band,), (line,) = root.findall(f"{SVG}polygon"), root.findall(f"{SVG}polyline")
    edge, middle = _pairs(band), _pairs(line)
    upper, lower = edge[:3], edge[:2:-1]
    for (_, high), (_, y), (_, low) in zip(upper, middle, lower, strict=True):
        assert high <= y <= low  # SVG counts downwards
    assert [x for x, _ in middle] == sorted(x for x, _ in middle)
    assert middle[0][1] > middle[-1][1]


def test_half_of_the_axis_is_half_of_the_height() -> None:
    root = _svg([BandPoint(0, 0, 0, 0), BandPoint(2, 0.5, 0.5, 0.5), BandPoint(4, 1, 1, 1)], 1.0)
    (line,) = root.findall(f"{SVG}polyline")
    (_, bottom), (_, half), (_, top) = _pairs(line)
    assert half == pytest.approx((bottom + top) / 2, abs=0.02)


def test_every_text_stays_inside_the_drawing() -> None:
    for applied in (0.05, 0.8, 1.0, 2.5):
        root = _svg([BandPoint(0, 0, 0, 0), BandPoint(16, applied, applied, applied)], applied)
        _, _, width, height = (float(x) for x in root.attrib["viewBox"].split())
        for text in root.findall(f"{SVG}text"):
            assert 0 <= float(text.attrib["x"]) <= width
            assert 10 <= float(text.attrib["y"]) <= height


@pytest.mark.parametrize(
    ("points", "applied"),
    [
        (POINTS[:1], 0.8),
        (POINTS, 0.0),
        ([POINTS[0], BandPoint(8, 0.6, 0.5, 0.7)], 0.8),
        ([POINTS[0], BandPoint(8, 0.3, 0.8, 0.7)], 0.8),
    ],
)
def test_a_band_that_makes_no_sense_is_not_drawn(points: list[BandPoint], applied: float) -> None:
    with pytest.raises(ValueError, match=r"band|nitrogen"):
        release_band_chart(points, applied)


def test_the_words_say_the_same_figures() -> None:
    assert release_in_words(POINTS, 0.8) == (
        "Of 0.80 lb N per 1000 sq ft are released by week 8 between 0.30 and 0.60 lb, by week 16 "
        "between 0.50 and 0.80 lb."
    )
