"""Price against slow-release share: what the wish would cost at other shares."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from django.conf import settings
from django.utils.safestring import SafeString

from blendshop.charts import (
    PricePoint,
    drawing_to_svg,
    price_curve_in_words,
    slow_release_price_chart,
)
from formulas.engine.curve import slow_release_curve
from formulas.engine.problem import SlowReleaseWish
from formulas.engine.result import Blend, Solved
from formulas.engine.solve import solve
from formulas.formulation import Formulation
from orders.blend_page.prices import Pricer

POINTS: Final = 11
#: Below this the share hardly moves and there is nothing to draw.
_LEAST_SPAN_PCT: Final = 1.0


@dataclass(frozen=True, slots=True)
class Curve:
    """The chart and the figures it is drawn from."""

    svg: SafeString
    points: tuple[PricePoint, ...]
    current: PricePoint | None


def price_curve(formulation: Formulation, pricer: Pricer) -> Curve | None:
    """Each point is a whole blend, solved and priced like the answer itself.

    None without a solved wish, without nitrogen, or where the wish leaves no choice of share.
    """
    problem, result = formulation.problem, formulation.result
    if not isinstance(result, Solved) or problem.strongest or not result.sensitivities:
        return None
    ends = slow_release_curve(problem, 2)
    if len(ends) < 2 or ends[-1].slow_release_pct < _LEAST_SPAN_PCT:
        return None
    highest = ends[-1].slow_release_pct
    points = []
    for step in range(POINTS):
        share = highest * step / (POINTS - 1)
        answer = solve(replace(problem, slow_release=SlowReleaseWish(min_pct=share)), explain=False)
        point = _point(share, answer.blend, pricer) if isinstance(answer, Solved) else None
        if point is not None:
            points.append(point)
    if len(points) < 2:
        return None
    current = _point(result.blend.slow_release_pct, result.blend, pricer)
    currency = settings.CURRENCY
    drawing = slow_release_price_chart(points, current, currency=currency)
    words = price_curve_in_words(points, current, currency)
    svg = drawing_to_svg(drawing, "Price against slow-release share", words, uid="price-curve")
    return Curve(svg, tuple(points), current)


def _point(share: float | None, blend: Blend, pricer: Pricer) -> PricePoint | None:
    breakdown = pricer.price(blend).breakdown
    if share is None or breakdown is None:
        return None
    return PricePoint(min(100.0, share), breakdown.price_per_gal)
