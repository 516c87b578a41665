"""The margin panel: for each guarantee what the blend holds, how it scatters, and the chances."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from blendshop.money import money
from formulas.answers.answer import Answer, OutOfReachAnswer
from formulas.answers.margin import GuaranteeMargin, MarginKept, MarginMissed
from formulas.engine.composition import NAMES
from formulas.engine.wishes import SLOW_RELEASE, Side
from formulas.engine_bridge import exact
from formulas.reference.allowances import UNIFORM, allowance_rules
from orders.blend_page.page_wish import PageWish
from orders.blend_page.spreads import spread_sources
from orders.blend_page.wish_place import Origin
from orders.models import Package

#: Chances below this are said as "below": no spread is known that well.
_LEAST_SAID: Final = 1e-4


@dataclass(frozen=True, slots=True)
class MarginRow:
    """One guarantee; percentages as in the analysis, chances in words."""

    key: str
    name: str
    guarantee_pct: float
    expected_pct: float
    sigma_pct: float
    allowance_pct: float | None
    chance_below: str
    chance_deficient: str


@dataclass(frozen=True, slots=True)
class MarginPanel:
    """What the margin did; the costs are what it adds in material, None for customers.

    ``cost`` is of the whole fill, ``cost_per_package`` None in bulk. ``any_missed`` and
    ``any_deficient`` are chances of the whole promise in words, ``index_low`` that of the primary
    nutrients together to be below ``index_pct`` of their guarantees; empty where not known.
    ``why_not`` says that the margin cannot be had, empty if it can.
    """

    chance: str
    rows: tuple[MarginRow, ...]
    cost: Decimal | None
    cost_per_gal: Decimal | None
    cost_per_package: Decimal | None
    is_tight: bool
    sources: tuple[str, ...]
    any_missed: str = ""
    any_deficient: str = ""
    index_low: str = ""
    index_pct: float | None = None
    why_not: str = ""


def margin_panel(answer: Answer, package: Package | None, *, sees_cost: bool) -> MarginPanel | None:
    """None without a margin in the wish."""
    if isinstance(answer, OutOfReachAnswer):
        return None if answer.margin is None else _missed(answer.margin)
    margin = answer.margin
    if margin is None:
        return None
    totals = answer.totals
    per_gal = margin.cost_per_lb * exact(totals.density_lb_per_gal)
    loose = package is None or package.is_bulk
    return MarginPanel(
        chance=chance_words(margin.chance),
        rows=tuple(_row(item) for item in margin.guarantees),
        cost=money(margin.cost_per_lb * exact(totals.mass_lb)) if sees_cost else None,
        cost_per_gal=money(per_gal) if sees_cost else None,
        cost_per_package=(
            None if package is None or loose or not sees_cost else money(per_gal * package.fill_gal)
        ),
        is_tight=margin.is_tight,
        sources=spread_sources(),
        any_missed=_said(margin.chance_any_missed),
        any_deficient=_said(margin.chance_deficient_any),
        index_low=_said(margin.chance_index_low),
        index_pct=allowance_rules()[UNIFORM].index_floor_pct,
    )


def _missed(margin: MarginMissed) -> MarginPanel:
    why = _("Even without a margin this wish is out of reach.")
    if margin.reachable_without:
        why = _("Without the margin this wish can be had. Ask for less, or allow a larger chance.")
    return MarginPanel(
        chance_words(margin.chance), (), None, None, None, is_tight=True, sources=(), why_not=why
    )


def _row(item: GuaranteeMargin) -> MarginRow:
    return MarginRow(
        key=item.key,
        name=_("Slow release, % of N") if item.key == SLOW_RELEASE else NAMES[item.key],
        guarantee_pct=item.guarantee_pct,
        expected_pct=item.expected_pct,
        sigma_pct=item.sigma_pct,
        allowance_pct=item.allowance_pct,
        chance_below=chance_words(item.chance_below_guarantee),
        chance_deficient=chance_words(item.chance_deficient),
    )


def _said(chance: float | None) -> str:
    return "" if chance is None else chance_words(chance)


def chance_words(chance: float) -> str:
    """A fraction as a percentage to two figures; what is smaller than known is "below".

    >>> chance_words(0.01), chance_words(3e-11)
    ('1 %', 'below 0.01 %')
    """
    if chance < _LEAST_SAID:
        return _("below {pct} %").format(pct=format(100 * _LEAST_SAID, "g"))
    return f"{100 * chance:.2g} %"


def with_aims(wish: PageWish, margin: MarginKept | MarginMissed | None) -> PageWish:
    """The wish whose minima are the aims that a margin has set: the answer speaks of those."""
    raised = _aims_pct(margin)
    places = {
        path: replace(place, field="", origin=Origin.MARGIN)
        if place.side is Side.LEAST and raised.get(place.key, place.asked) != place.asked
        else place
        for path, place in wish.places.items()
    }
    return replace(wish, places=places)


def _aims_pct(margin: MarginKept | MarginMissed | None) -> Mapping[str, float]:
    """Aims by key; none where the answer speaks of the wish itself."""
    if isinstance(margin, MarginKept):
        return {item.key: item.aim_pct for item in margin.guarantees}
    return margin.aims_pct if margin is not None and margin.reachable_without else {}
