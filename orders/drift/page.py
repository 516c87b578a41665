"""The page of one stock: its charts, and the spread that is assumed beside what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from blendshop.charts import drawing_to_svg
from blendshop.control_chart import ChartedLimits, ChartedPoint, Shape, control_chart
from blendshop.figures.readers import reader
from formulas.engine.composition import SHORT_NAMES
from formulas.engine.control.run_rules import OF_ONE_POINT, Rule
from formulas.engine.control.spread import MeasuredAssay, Spread
from formulas.models import BaseStock
from orders.drift.certificates import newest_of
from orders.drift.series import Series, Standing, measured_of, series_of, spreads_of, worst
from orders.drift.weighings import newest_weighings
from orders.drift.wording import STANDING_WORDS, rules_in_short, told, told_now
from orders.models import PlantSpread, StockSpread


@dataclass(frozen=True, slots=True)
class PointRow:
    """A point in the table under its chart; ``apart`` is the range to the point before."""

    number: int
    record: str
    url: str
    on: date
    value: float
    apart: float | None
    rules: str


@dataclass(frozen=True, slots=True)
class ShownChart:
    """One chart. ``now`` is broken among the newest points, ``before`` earlier on."""

    key: str
    name: str
    places: int
    standing: Standing
    words: str
    now: tuple[str, ...]
    before: tuple[str, ...]
    values_svg: SafeString
    ranges_svg: SafeString | None
    rows: tuple[PointRow, ...]

    @property
    def is_broken(self) -> bool:
        return self.standing in {Standing.OUT, Standing.RUN}


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """A measured spread, percent of the mean."""

    name: str
    spread: Spread


@dataclass(frozen=True, slots=True)
class Assumed:
    """The spreads that margins take today; ``is_own`` where the stock has a row of its own."""

    strength_rsd_pct: float
    total_n_rsd_pct: float
    source: str
    is_own: bool
    since: datetime | None = None
    who: str = ""


@dataclass(frozen=True, slots=True)
class StockDrift:
    """``charts`` the worst first; ``measured`` is None while there are too few certificates."""

    charts: tuple[ShownChart, ...]
    standing: Standing
    assumed: Assumed
    measured: MeasuredAssay | None
    spreads: tuple[SpreadRow, ...]

    @property
    def words(self) -> str:
        return str(STANDING_WORDS[self.standing])

    @property
    def is_adopted(self) -> bool:
        """Whether what was measured is what is assumed, as it is kept."""
        if self.measured is None:
            return False
        kept = (self.assumed.strength_rsd_pct, self.assumed.total_n_rsd_pct)
        return self.assumed.is_own and kept == kept_figures(self.measured)


def stock_series(stock: BaseStock, supplier: str | None) -> list[Series]:
    """The charts of a stock, of one supplier or (None) of all."""
    weighed = [
        each
        for each in newest_weighings()
        if each.stock_code == stock.code and (supplier is None or each.supplier == supplier)
    ]
    return series_of(newest_of(stock, supplier), weighed, stock.analysis())


def stock_drift(stock: BaseStock, supplier: str | None) -> StockDrift:
    """The page's figures, in a fixed number of queries."""
    series = stock_series(stock, supplier)
    shown = sorted((_shown(each) for each in series), key=lambda chart: chart.standing)
    return StockDrift(
        charts=tuple(shown),
        standing=worst(series),
        assumed=assumed_of(stock),
        measured=measured_of(series),
        spreads=tuple(SpreadRow(_name(key), spread) for key, spread in spreads_of(series).items()),
    )


def assumed_of(stock: BaseStock) -> Assumed:
    """What margins take for the stock: its own row, else the plant's usual spread."""
    row = StockSpread.objects.filter(stock=stock).first()
    if row is None:
        plant = PlantSpread.load()
        return Assumed(plant.usual_rsd_pct, 0.0, plant.source, is_own=False)
    kept = row.history.select_related("history_user").first()
    return Assumed(
        row.strength_rsd_pct,
        row.total_n_rsd_pct,
        row.source,
        is_own=True,
        since=None if kept is None else kept.history_date,
        who="" if kept is None else str(kept.history_user or ""),
    )


def kept_figures(measured: MeasuredAssay) -> tuple[float, float]:
    """Strength and total N as a row keeps them: hundredths of a percent, rounded."""
    return round(measured.strength_rsd_pct, 2), round(measured.total_n_rsd_pct, 2)


def _name(key: str) -> str:
    return SHORT_NAMES.get(key, _("Density"))


def _shown(series: Series) -> ShownChart:
    now = set(series.broken_now)
    return ShownChart(
        key=series.key,
        name=series.name,
        places=series.places,
        standing=series.standing,
        words=str(STANDING_WORDS[series.standing]),
        now=told_now(series),
        before=tuple(told(series, each) for each in series.chart.broken if each not in now),
        values_svg=_values_svg(series),
        ranges_svg=_ranges_svg(series),
        rows=tuple(reversed([_row(series, place) for place in range(len(series.points))])),
    )


def _row(series: Series, place: int) -> PointRow:
    point = series.points[place]
    route = "lot_detail" if series.is_of_lots else "batch_detail"
    return PointRow(
        number=place + 1,
        record=point.record,
        url=reverse(route, args=[point.record]),
        on=point.on,
        value=point.value,
        apart=series.chart.ranges[place - 1] if place else None,
        rules=rules_in_short(series, place),
    )


def _values_svg(series: Series) -> SafeString:
    limits = series.chart.limits
    drawn = None if limits is None else ChartedLimits(limits.centre, limits.upper, limits.lower)
    drawing = control_chart(
        [
            ChartedPoint(value, _shape(series.chart.rules_at(place)))
            for place, value in enumerate(series.chart.values)
        ],
        drawn,
        title=series.name,
        places=series.places,
    )
    return drawing_to_svg(drawing, series.name, _in_words(series), _uid(series, "values"))


def _ranges_svg(series: Series) -> SafeString | None:
    """Range by range from the second point on; None without limits."""
    limits = series.chart.limits
    if limits is None:
        return None
    title = _("Range from point to point")
    points = [
        ChartedPoint(size, Shape.OUT if size > limits.largest_range else Shape.DOT)
        for size in series.chart.ranges
    ]
    drawn = ChartedLimits(limits.mean_range, limits.largest_range)
    drawing = control_chart(points, drawn, title=title, places=series.places, first=2)
    words = _("Mean {mean}, upper limit {upper}.").format(
        mean=reader().number(limits.mean_range, series.places),
        upper=reader().number(limits.largest_range, series.places),
    )
    return drawing_to_svg(drawing, title, words, _uid(series, "ranges"))


def _shape(rules: Sequence[Rule]) -> Shape:
    """A jump is marked among the ranges; of the values only who is beyond a limit is out."""
    if Rule.BEYOND_THREE in rules:
        return Shape.OUT
    return Shape.RUN if set(rules) - OF_ONE_POINT else Shape.DOT


def _in_words(series: Series) -> str:
    limits = series.chart.limits
    if limits is None:
        return _("Too few points for limits.")
    return _("Mean {mean}, limits {lower} and {upper}. {found}").format(
        mean=reader().number(limits.centre, series.places),
        lower=reader().number(limits.lower, series.places),
        upper=reader().number(limits.upper, series.places),
        found="; ".join(told_now(series)) or STANDING_WORDS[series.standing],
    )


def _uid(series: Series, which: str) -> str:
    return f"drift-{series.key.replace('.', '-')}-{which}"
