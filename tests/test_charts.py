"""Charts: safe as inline SVG under a strict policy, readable, and true to their numbers."""

import io
import itertools
import re
import xml.etree.ElementTree as ET
from decimal import Decimal

import pypdf
import pytest
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Circle, Drawing, Group, String

from blendshop.charts import (
    CURVE,
    INK,
    MARK,
    PAPER,
    PricePoint,
    RecipeBar,
    drawing_to_svg,
    price_curve_in_words,
    recipe_bars,
    slow_release_price_chart,
)
from blendshop.documents.fonts import REGULAR

SVG = "{http://www.w3.org/2000/svg}"
POINTS = [PricePoint(0, Decimal("3.90")), PricePoint(35, Decimal("4.80"))]
POINTS += [PricePoint(72, Decimal("7.99"))]
CURRENT = PricePoint(50, Decimal("6.0250"))


def parse(markup):
    return ET.fromstring(markup)  # noqa: S314 - our own markup, made a line above


def svg(drawing):
    return parse(drawing_to_svg(drawing, "Price", "Rises.", "curve"))


def numbers(element, *names):
    return [float(element.get(name)) for name in names]


def texts(root):
    return [element.text for element in root.iter(f"{SVG}text")]


def boxes_of_texts(root):
    """(left, top, right, bottom) of every text, at a generous 0.62 em a letter."""
    found = []
    for element in root.iter(f"{SVG}text"):
        x, y, size = numbers(element, "x", "y", "font-size")
        width = 0.62 * size * len(element.text)
        shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor")]
        found.append((x - shift * width, y - size, x + (1 - shift) * width, y + 3))
    return found


@pytest.mark.parametrize(
    "drawing",
    [slow_release_price_chart(POINTS, CURRENT), recipe_bars([RecipeBar("Water", 40.0)])],
    ids=["price chart", "recipe bars"],
)
def test_the_svg_holds_no_style_no_script_and_no_handler(drawing):
    markup = drawing_to_svg(drawing, "Price", "Rises.", "curve")
    root = parse(markup)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    attributes = {name for element in root.iter() for name in element.attrib}
    assert tags <= {"svg", "title", "desc", "line", "rect", "polyline", "polygon", "text", "g"}
    assert not [name for name in attributes if name == "style" or name.startswith("on")]
    assert "script" not in markup
    assert "url(" not in markup


def test_the_svg_is_named_for_people_who_do_not_see_it():
    root = svg(slow_release_price_chart(POINTS, CURRENT))
    named = {element.get("id"): element.text for element in root.iter() if element.get("id")}
    assert root.get("role") == "img"
    assert [named[i] for i in root.get("aria-labelledby").split()] == ["Price", "Rises."]


def test_hostile_text_stays_text():
    bars = recipe_bars([RecipeBar("<script>alert(1)</script>&\x00", 1.0)])
    markup = drawing_to_svg(bars, "</title><script>", "<b>", "bars")
    root = parse(markup)
    assert "<script" not in markup
    assert "<script>alert(1)</script>&" in texts(root)
    assert root.find(f"{SVG}title").text == "</title><script>"


@pytest.mark.parametrize("uid", ["", "1a", 'a"', "a b", "a\n", "ä"])
def test_a_uid_that_cannot_be_an_id_is_refused(uid):
    with pytest.raises(ValueError, match="cannot be an id"):
        drawing_to_svg(recipe_bars([]), "t", "d", uid)


def test_a_shape_without_svg_form_is_refused_rather_than_dropped():
    drawing = Drawing(10, 10, Group(Circle(1, 1, 1)))
    with pytest.raises(TypeError, match="Circle has no SVG form"):
        drawing_to_svg(drawing, "t", "d", "x")


def test_groups_keep_their_contents_and_y_grows_downwards():
    text = String(1, 8, "up", fontName=REGULAR, fontSize=5, fillColor=INK)
    root = svg(Drawing(10, 10, Group(text)))
    (found,) = root.findall(f"{SVG}g/{SVG}text")
    assert numbers(found, "x", "y") == [1, 2]


def test_the_curve_runs_through_its_points_and_the_mark_sits_at_today():
    root = svg(slow_release_price_chart(POINTS, CURRENT))
    ticks = {
        element.text: numbers(element, "x", "y")
        for element in root.iter(f"{SVG}text")
        if re.fullmatch(r"\$?[\d.]+", element.text)
    }
    x0, x80 = ticks["0"][0], ticks["80"][0]
    y4, y8 = ticks["$4.00"][1] - 4, ticks["$8.00"][1] - 4  # text sits 4 below its line

    def place(share, price):
        return x0 + (x80 - x0) * share / 80, y4 + (y8 - y4) * (price - 4) / 4

    line = root.find(f"{SVG}polyline").get("points").split()
    drawn = [tuple(map(float, pair.split(","))) for pair in line]
    expected = [place(p.slow_release_pct, float(p.price_per_gal)) for p in POINTS]
    assert drawn == [pytest.approx(pair, abs=0.05) for pair in expected]
    corners = [
        tuple(map(float, pair.split(",")))
        for pair in root.find(f"{SVG}polygon").get("points").split()
    ]
    middle = [sum(axis) / 4 for axis in zip(*corners, strict=True)]
    assert middle == pytest.approx(place(50, 6.025), abs=0.05)


def test_points_out_of_order_are_drawn_from_left_to_right():
    in_order = svg(slow_release_price_chart(POINTS, None)).find(f"{SVG}polyline").attrib
    assert (
        svg(slow_release_price_chart(POINTS[::-1], None)).find(f"{SVG}polyline").attrib == in_order
    )


def test_axes_name_their_units_and_the_blend_is_labelled_in_words():
    words = texts(svg(slow_release_price_chart(POINTS, CURRENT, "Price per gal")))
    assert "Price per gal" in words
    assert "Slow-release share, % of total N" in words
    assert "This blend: $6.03 at 50%" in words


@pytest.mark.parametrize("share", [0, 3, 20, 36, 50, 60, 71, 72])
def test_the_label_of_today_covers_no_part_of_the_curve(share):
    points = [PricePoint(x, Decimal(390 + x + x * x // 16) / 100) for x in range(0, 73, 4)]
    current = PricePoint(share, Decimal(390 + share + share * share // 16) / 100)
    root = svg(slow_release_price_chart(points, current))
    label = root.findall(f"{SVG}rect")[-1]
    x, y, width, height = numbers(label, "x", "y", "width", "height")
    pairs = root.find(f"{SVG}polyline").get("points").split()
    curve = [tuple(map(float, pair.split(","))) for pair in pairs]
    for (x1, y1), (x2, y2) in itertools.pairwise(curve):
        for part in range(21):
            px, py = x1 + (x2 - x1) * part / 20, y1 + (y2 - y1) * part / 20
            assert not (x <= px <= x + width and y <= py <= y + height)


@pytest.mark.parametrize(
    ("points", "current"),
    [
        (POINTS, CURRENT),
        ([], CURRENT),
        (POINTS, PricePoint(72, Decimal("7.99"))),
        (POINTS, PricePoint(0, Decimal("3.90"))),
        ([PricePoint(0, Decimal(4)), PricePoint(100, Decimal(4))], None),
        ([PricePoint(0, Decimal(1200)), PricePoint(100, Decimal(1900))], None),
    ],
)
def test_no_text_leaves_the_drawing(points, current):
    root = svg(slow_release_price_chart(points, current))
    for left, top, right, bottom in boxes_of_texts(root):
        assert left >= -0.5
        assert right <= 380.5
        assert top >= -0.5
        assert bottom <= 250.5


def test_text_is_readable_at_phone_width():
    root = svg(slow_release_price_chart(POINTS, CURRENT))
    width = float(root.get("viewBox").split()[2])
    sizes = [float(element.get("font-size")) for element in root.iter(f"{SVG}text")]
    assert min(sizes) * 343 / width >= 10  # px on a 375 px phone with 16 px margins


@pytest.mark.parametrize("color", [INK, CURVE, MARK])
def test_colours_stand_out_from_the_paper(color):
    """WCAG 2.2, 1.4.3: 4.5:1 for text; relative luminance as defined there."""

    def luminance(c):
        parts = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in c.rgb()]
        return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), parts, strict=True))

    assert (luminance(PAPER) + 0.05) / (luminance(color) + 0.05) >= 4.5


def test_a_flat_curve_is_not_blown_up():
    flat = [PricePoint(0, Decimal("5.000")), PricePoint(50, Decimal("5.004"))]
    line = svg(slow_release_price_chart(flat, None)).find(f"{SVG}polyline").get("points")
    (_, y1), (_, y2) = (map(float, pair.split(",")) for pair in line.split())
    assert abs(y1 - y2) < 5


@pytest.mark.parametrize("share", [-0.1, 100.1, float("nan"), float("inf")])
def test_a_share_outside_its_range_is_refused(share):
    with pytest.raises(ValueError, match="not within 0 to 100"):
        slow_release_price_chart([PricePoint(share, Decimal(4))], None)
    with pytest.raises(ValueError, match="not within 0 to 100"):
        recipe_bars([RecipeBar("Water", share)])


def test_a_price_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match="NaN is not a price"):
        slow_release_price_chart([PricePoint(5, Decimal("NaN"))], None)


def test_a_chart_of_nothing_is_refused():
    with pytest.raises(ValueError, match="at least one point"):
        slow_release_price_chart([], None)


def test_the_curve_is_told_in_words():
    told = price_curve_in_words(POINTS[::-1], CURRENT)
    assert told == "Price runs from $3.90 at 0% to $7.99 at 72%. This blend: $6.03 at 50%."
    assert price_curve_in_words([], CURRENT) == "This blend: $6.03 at 50%."


def test_bars_are_as_long_as_their_share_and_say_it():
    root = svg(recipe_bars([RecipeBar("Urea solution", 42.917), RecipeBar("P2O5 source", 0.25)]))
    widths = [float(rect.get("width")) for rect in root.iter(f"{SVG}rect")]
    assert widths == pytest.approx([380, 380 * 0.42917, 380, 0.95], abs=0.01)
    assert texts(root) == ["Urea solution", "42.92%", "P₂O₅ source", "0.25%"]


def test_a_long_stock_name_makes_room_for_its_figure():
    name, figure = texts(svg(recipe_bars([RecipeBar("Chelated micro package " * 9, 100)])))
    assert name.endswith("…")
    assert name.startswith("Chelated micro package")
    assert figure == "100.00%"


def test_the_same_drawing_prints_into_a_pdf():
    pdf = renderPDF.drawToString(slow_release_price_chart(POINTS, CURRENT))
    text = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "This blend: $6.03 at 50%" in text


def test_the_label_of_today_stands_inside_its_frame():
    root = svg(slow_release_price_chart(POINTS, CURRENT))
    x, y, width, height = numbers(root.findall(f"{SVG}rect")[-1], "x", "y", "width", "height")
    (label,) = [e for e in root.iter(f"{SVG}text") if e.text.startswith("This blend")]
    middle, baseline = numbers(label, "x", "y")
    assert middle == pytest.approx(x + width / 2, abs=0.02)
    assert y + 12 <= baseline <= y + height
