"""The release outlook of the blend on the page: a band, its table, and where opinions differ."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from blendshop.charts import drawing_to_svg
from blendshop.release_chart import BandPoint, release_band_chart, release_in_words
from formulas.contracts.formulation import Formulation
from formulas.engine.field.release import Pace, ReleaseOutlook, release_outlook
from formulas.engine.field.release_pools import blend_pools
from formulas.engine.field.release_season import SoilSeason
from formulas.engine.problem import BadProblem
from formulas.engine.result import Finding
from formulas.engine.units import celsius
from formulas.reference.release_pools import demo_seasons, release_model
from orders.blend_page import fields as f
from orders.blend_page.wish_form import WishForm

_WEEK: Final = 7


@dataclass(frozen=True, slots=True)
class PoolRow:
    """One kind of nitrogen: pounds, and days until nine tenths are released, in words."""

    name: str
    n_lb: float
    slow: str
    usual: str
    fast: str
    sources: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TradeRow:
    """What the trade expects, with its mark."""

    words: str
    mark: str


@dataclass(frozen=True, slots=True)
class Release:
    """The outlook in rows; or in ``problem`` why there is none."""

    season_name: str = ""
    season_source: str = ""
    svg: SafeString | None = None
    points: tuple[BandPoint, ...] = ()
    pools: tuple[PoolRow, ...] = ()
    trade: tuple[TradeRow, ...] = ()
    disagreement: str = ""
    at_once_lb: float = 0.0
    applied_lb: float = 0.0
    not_modelled_lb: float = 0.0
    feeds_until: tuple[tuple[str, str], ...] = ()
    #: At the usual pace; None beyond the outlook.
    feeding_days: int | None = None
    findings: tuple[Finding, ...] = ()
    problem: str = ""


def release_of(formulation: Formulation, form: WishForm) -> Release:
    """16 weeks of this blend at the spray sheet's rate, in the chosen season."""
    rate = form.cleaned_data.get("n_rate")
    if rate is None:
        return Release(problem=_("The outlook goes by the N rate: correct it to see the band."))
    season = _season(form)
    if season is None:
        return Release(problem=_("Type a soil temperature for each of the four months."))
    if formulation.blend is None:
        return Release(problem=_("Follows as soon as there is a blend."))
    try:
        pools = blend_pools(
            formulation.blend.shares,
            formulation.problem.stocks,
            n_rate_lb_per_1000sqft=rate,
        )
        return _shown(release_outlook(pools, season, release_model()))
    except BadProblem as bad:
        return Release(problem=" ".join(error.message for error in bad.errors))


def _season(form: WishForm) -> SoilSeason | None:
    """The chosen season; None while a typed one is not complete."""
    code = form.cleaned_data.get("season") or next(iter(demo_seasons()))
    if code != f.TYPED_SEASON:
        return demo_seasons()[code]
    temps_f = [form.cleaned_data.get(f.soil_field(month)) for month in range(f.SOIL_MONTHS)]
    if any(temp is None for temp in temps_f):
        return None
    return SoilSeason(
        name=_("Soil temperatures typed in"),
        monthly_soil_temp_c=tuple(celsius(temp) for temp in temps_f if temp is not None),
        relative_water_content=release_model().usual_relative_water_content,
    )


def _shown(outlook: ReleaseOutlook) -> Release:
    points = tuple(_points(outlook))
    applied = outlook.applied_n_lb_per_1000sqft
    drawing = release_band_chart(points, applied)
    words = release_in_words(points, applied)
    return Release(
        season_name=outlook.season.name,
        season_source=outlook.season.source or outlook.season.mark,
        svg=drawing_to_svg(
            drawing, _("Nitrogen released over 16 weeks"), words, uid="release-band"
        ),
        points=points,
        pools=tuple(_pools(outlook)),
        trade=tuple(TradeRow(item.expects, item.mark) for item in outlook.trade),
        disagreement=outlook.disagreement or "",
        at_once_lb=outlook.at_once_lb_per_1000sqft,
        applied_lb=applied,
        not_modelled_lb=outlook.not_modelled_lb_per_1000sqft,
        feeds_until=tuple(
            (pace.value, _until(outlook.lines[pace].feeding_end_day)) for pace in Pace
        ),
        feeding_days=outlook.lines[Pace.USUAL].feeding_end_day,
        findings=outlook.findings,
    )


def _points(outlook: ReleaseOutlook) -> Iterator[BandPoint]:
    """Week by week: the chart and its table hold the same points."""
    slow, usual, fast = (
        outlook.lines[pace].cumulative_lb_per_1000sqft
        for pace in (Pace.SLOW, Pace.USUAL, Pace.FAST)
    )
    weeks = (len(usual) - 1) // _WEEK
    for week in range(weeks + 1):
        day = week * _WEEK
        # Rates are ordered at 25 C; with their own Q10s their order may change in cold soil.
        lines = (slow[day], usual[day], fast[day])
        yield BandPoint(week, min(lines), usual[day], max(lines))


def _pools(outlook: ReleaseOutlook) -> Iterator[PoolRow]:
    for pool in outlook.pools:
        rates = {(rate.mark, rate.source) for rate in pool.rates.values()}
        yield PoolRow(
            pool.name,
            pool.n_lb_per_1000sqft,
            _days(pool.days_to_90_pct[Pace.SLOW]),
            _days(pool.days_to_90_pct[Pace.USUAL]),
            _days(pool.days_to_90_pct[Pace.FAST]),
            tuple(sorted(rates)),
        )


def _days(days: int | None) -> str:
    return _("after 16 weeks") if days is None else _("{days} days").format(days=days)


def _until(day: int | None) -> str:
    return _("beyond 16 weeks") if day is None else _("about day {day}").format(day=day)
