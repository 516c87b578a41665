"""Bars of amounts and steps of costs: what is drawn is what is written beside it."""

import xml.etree.ElementTree as ET
from datetime import date
from decimal import Decimal

import pytest

from blendshop.charts import AmountBar, amount_bars, drawing_to_svg
from blendshop.cost_chart import CostPoint, cost_steps_chart

SVG = "{http://www.w3.org/2000/svg}"


def drawn(drawing):
    return ET.fromstring(drawing_to_svg(drawing, "Title", "Words", "chart"))  # noqa: S314 - ours


def test_bars_are_as_long_as_their_amounts_and_losses_go_left():
    bars = [AmountBar("A", "30.0", 30), AmountBar("B", "-10.0", -10), AmountBar("C", "0.0", 0)]
    rects = [
        (float(rect.get("x")), float(rect.get("width")))
        for rect in drawn(amount_bars(bars)).findall(f"{SVG}rect")
    ]
    assert rects == [(95, 285), (0, 95), (95, 0)]  # of 380: zero stands at a quarter


def test_a_long_name_leaves_room_for_its_figure():
    texts = drawn(amount_bars([AmountBar("Long name " * 20, "$1,234.56", 1)])).findall(f"{SVG}text")
    assert [text.text for text in texts][1] == "$1,234.56"
    assert texts[0].text.endswith("…")


def test_amounts_that_are_all_nothing_are_drawn_and_one_without_end_is_refused():
    assert len(drawn(amount_bars([AmountBar("A", "0", 0)])).findall(f"{SVG}rect")) == 1
    with pytest.raises(ValueError, match="length"):
        amount_bars([AmountBar("A", "?", float("inf"))])


def test_a_cost_holds_until_the_next_one():
    points = [
        CostPoint(date(2026, 1, 1), Decimal("0.20")),
        CostPoint(date(2026, 1, 11), Decimal("0.30")),
    ]
    [line] = drawn(cost_steps_chart(points, date(2026, 1, 21))).findall(f"{SVG}polyline")
    places = [tuple(map(float, each.split(","))) for each in line.get("points").split()]
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = places
    assert (y0, y2) == (y1, y3)
    assert y2 < y0  # up is less in SVG
    assert x1 == x2
    assert x1 - x0 == pytest.approx(x3 - x2, abs=0.02)


@pytest.mark.parametrize("days", [[], [2, 1], [1, 1], [1, 30]])
def test_costs_out_of_order_are_refused(days):
    points = [CostPoint(date(2026, 1, day), Decimal(1)) for day in days]
    with pytest.raises(ValueError, match="cost"):
        cost_steps_chart(points, date(2026, 1, 30))
