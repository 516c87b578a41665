"""Rows of points of one stock as control charts, and how each stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import IntEnum
from typing import Final

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from formulas.engine.composition import ANALYSIS_KEYS, NITROGEN_FORMS, SHORT_NAMES
from formulas.engine.control.individuals import FEWEST, IndividualsChart, individuals_chart
from formulas.engine.control.run_rules import OF_ONE_POINT, Broken
from formulas.engine.control.spread import MeasuredAssay, Spread, measured_assay, spread_of
from orders.drift.certificates import TOTAL_N, CertifiedLot, with_total_n
from orders.drift.weighings import Weighed

DENSITY: Final = "density"
AS_MADE: Final = "as_made"
_KEYS: Final = (TOTAL_N, *ANALYSIS_KEYS)
#: What was broken counts while it reaches into so many of the newest points (as many as the
#: longest rule needs; the house's own choice): what is long past is told, and no standing.
_NEWEST: Final = FEWEST
#: Below this mean, percent, a content is written to four places.
_SMALL_PCT: Final = 1.0
#: Densities of certificates are brought to it.
_DENSITY_AT_F: Final = 60


class Standing(IntEnum):
    """Worst first."""

    OUT = 0
    RUN = 1
    STEADY = 2
    TOO_FEW = 3


@dataclass(frozen=True, slots=True)
class Point:
    """A value with the lot or batch it is of."""

    record: str
    on: date
    value: float


@dataclass(frozen=True, slots=True)
class Series:
    """``key`` is a composition key, ``DENSITY`` or ``AS_MADE``; ``places`` its decimals."""

    key: str
    points: tuple[Point, ...]
    chart: IndividualsChart

    @property
    def name(self) -> str:
        if self.key == DENSITY:
            return _("Density at {temperature}, {unit}").format(
                temperature=reader().temperature(_DENSITY_AT_F),
                unit=reader().units.density_lb_per_gal.mark,
            )
        if self.key == AS_MADE:
            return _("As-made error, % of the target")
        return _("{content}, %").format(content=SHORT_NAMES[self.key])

    @property
    def places(self) -> int:
        if self.key == DENSITY:
            return 3 + reader().units.density_lb_per_gal.more_places
        values = self.chart.values
        is_small = self.is_assay and sum(values) < _SMALL_PCT * len(values)
        return 4 if is_small else 2

    @property
    def is_assay(self) -> bool:
        return self.key not in {DENSITY, AS_MADE}

    @property
    def is_of_lots(self) -> bool:
        """Whether its points are lots; else they are batches."""
        return self.key != AS_MADE

    @property
    def broken_now(self) -> tuple[Broken, ...]:
        """What reaches into the newest points."""
        since = len(self.points) - _NEWEST
        return tuple(each for each in self.chart.broken if each.last >= since)

    @property
    def standing(self) -> Standing:
        if not self.chart.is_judged:
            return Standing.TOO_FEW
        rules = {each.rule for each in self.broken_now}
        if rules & OF_ONE_POINT:
            return Standing.OUT
        return Standing.RUN if rules else Standing.STEADY


def series_of(
    lots: Sequence[CertifiedLot], weighed: Iterable[Weighed], typical: Mapping[str, float]
) -> list[Series]:
    """The charts of one stock: each content, density, as-made error; what has no point is none.

    ``typical`` is the stock's own analysis. A nitrogen form has a chart where there are several.
    Densities are in the reader's unit; rules and relative spreads are the same in each.
    """
    stated = [(lot, with_total_n(lot, typical)) for lot in lots]
    keys = {key for _lot, figures in stated for key in figures}
    if TOTAL_N in keys and len(keys & set(NITROGEN_FORMS)) == 1:
        keys -= set(NITROGEN_FORMS)
    found = [
        _series(key, [_of_lot(lot, figures[key]) for lot, figures in stated if key in figures])
        for key in _KEYS
        if key in keys
    ]
    dense = [(lot, lot.density_lb_per_gal) for lot in lots]
    unit = reader().units.density_lb_per_gal
    found.append(
        _series(
            DENSITY,
            [
                _of_lot(lot, float(unit.shown(Decimal(repr(value)))))
                for lot, value in dense
                if value is not None
            ],
        )
    )
    found.append(
        _series(AS_MADE, [Point(each.batch, each.charged_on, each.error_pct) for each in weighed])
    )
    return [each for each in found if each.points]


def spreads_of(series: Iterable[Series]) -> dict[str, Spread]:
    """By key, of what has points enough; the as-made error is no spread around a content."""
    found = {each.key: spread_of(each.chart.values) for each in series if each.key != AS_MADE}
    return {key: spread for key, spread in found.items() if spread is not None}


def measured_of(series: Iterable[Series]) -> MeasuredAssay | None:
    """What the certificates' assays make as the spreads of a stock."""
    return measured_assay(spreads_of(each for each in series if each.is_assay))


def worst(series: Iterable[Series]) -> Standing:
    """Of several charts; too few points where there is none."""
    return min((each.standing for each in series), default=Standing.TOO_FEW)


def _of_lot(lot: CertifiedLot, value: float) -> Point:
    return Point(lot.code, lot.received_on, value)


def _series(key: str, points: Sequence[Point]) -> Series:
    return Series(key, tuple(points), individuals_chart([point.value for point in points]))
