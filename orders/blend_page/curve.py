"""Price against slow-release share: what the wish would cost at other shares."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.conf import settings
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from blendshop.charts import (
    PricePoint,
    drawing_to_svg,
    price_curve_in_words,
    slow_release_price_chart,
)
from formulas.answers.wish import Range, Wish
from formulas.contracts.formulation import Formulation
from formulas.engine.blend.curve import slow_release_curve
from formulas.engine.blend.solving import solve
from formulas.engine.problem import SlowReleaseWish
from formulas.engine.result import Solved
from orders.blend_page.prices import Pricer
from orders.quoting.requests import WishedBlend

POINTS: Final = 11
#: Below this the share hardly moves and there is nothing to draw.
_LEAST_SPAN_PCT: Final = 1.0


@dataclass(frozen=True, slots=True)
class Curve:
    """The chart and the figures it is drawn from."""

    svg: SafeString
    points: tuple[PricePoint, ...]
    current: PricePoint | None


def price_curve(formulation: Formulation, wish: Wish, pricer: Pricer) -> Curve | None:
    """Each point is a whole blend, solved and priced like the answer; its room as the answer's.

    None without a solved wish, without nitrogen, or where the wish leaves no choice of share.
    """
    problem, blend = formulation.problem, formulation.blend
    if blend is None or problem.strongest or not formulation.answer.sensitivity:
        return None
    ends = slow_release_curve(problem, 2)
    if len(ends) < 2 or ends[-1].slow_release_pct < _LEAST_SPAN_PCT:
        return None
    highest = ends[-1].slow_release_pct
    shares = [highest * step / (POINTS - 1) for step in range(POINTS)]
    answers = [
        (share, solve(replace(problem, slow_release=SlowReleaseWish(min_pct=share)), explain=False))
        for share in shares
    ]
    solved = [(share, a.blend) for share, a in answers if isinstance(a, Solved)]
    wished = [
        (share, WishedBlend(replace(wish, slow_release_pct=Range(min=share)), point))
        for share, point in solved
    ]
    own = WishedBlend(wish, blend)
    *rest, current = _points(own, [*wished, (blend.slow_release_pct, own)], pricer)
    points = [point for point in rest if point is not None]
    if len(points) < 2:
        return None
    currency = settings.CURRENCY
    drawing = slow_release_price_chart(points, current, currency=currency)
    words = price_curve_in_words(points, current, currency)
    svg = drawing_to_svg(
        drawing, gettext("Price against slow-release share"), words, uid="price-curve"
    )
    return Curve(svg, tuple(points), current)


def _points(
    own: WishedBlend, blends: Sequence[tuple[float | None, WishedBlend]], pricer: Pricer
) -> Iterator[PricePoint | None]:
    prices = pricer.price_like(own, [blend for _, blend in blends])
    for (share, _), price in zip(blends, prices, strict=True):
        if share is None or price.breakdown is None:
            yield None
        else:
            yield PricePoint(min(100.0, share), price.breakdown.price_per_gal)
