"""How far single values spread, and what that is as the spreads a margin is worked out from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from formulas.engine.composition import NITROGEN_FORMS
from formulas.engine.control.individuals import FEWEST, individuals_chart

#: Total nitrogen among contents.
_TOTAL_N = "N"


@dataclass(frozen=True, slots=True)
class Spread:
    """Of ``count`` values: their mean, and two standard deviations in their unit.

    ``long_term`` is that of all values around their mean (n - 1): it holds what drifts, jumps and
    differs between suppliers. ``short_term`` is the mean moving range over d2, from one value to
    the next only. Both are 0 or more.
    """

    count: int
    mean: float
    long_term: float
    short_term: float

    @property
    def long_term_pct(self) -> float:
        """Percent of the mean."""
        return 100.0 * self.long_term / self.mean

    @property
    def short_term_pct(self) -> float:
        """Percent of the mean."""
        return 100.0 * self.short_term / self.mean


def spread_of(values: Sequence[float]) -> Spread | None:
    """None for too few values to claim one, or around a mean that is not above 0."""
    if len(values) < FEWEST or not fmean(values) > 0:
        return None
    limits = individuals_chart(values).limits
    return (
        None if limits is None else Spread(len(values), limits.centre, stdev(values), limits.sigma)
    )


@dataclass(frozen=True, slots=True)
class MeasuredAssay:
    """Relative standard deviations, percent: of all contents together, of total N on top of that.

    ``count`` is the fewest values any of them rests on.
    """

    strength_rsd_pct: float
    total_n_rsd_pct: float
    count: int


def measured_assay(by_key: Mapping[str, Spread]) -> MeasuredAssay | None:
    """Spreads of contents by composition key as a strength, and total N on top of it.

    The strength is the widest relative spread of the contents but nitrogen, so none is taken for
    steadier than it was; where total N spreads more, the rest of it (variances add) is N's own.
    Of nitrogen the total alone counts: its forms share their error. None where nothing is known.

    >>> k, n = Spread(12, 20.0, 0.2, 0.2), Spread(12, 10.0, 0.2, 0.2)
    >>> found = measured_assay({"K2O": k, "N": n})
    >>> round(found.strength_rsd_pct, 6), round(found.total_n_rsd_pct, 6)
    (1.0, 1.732051)
    """
    nitrogen = by_key.get(_TOTAL_N)
    others = [spread for key, spread in by_key.items() if key not in {_TOTAL_N, *NITROGEN_FORMS}]
    counted = [*others, *([] if nitrogen is None else [nitrogen])]
    if not counted:
        return None
    strength = max(spread.long_term_pct for spread in (others or counted))
    own = 0.0 if nitrogen is None else nitrogen.long_term_pct
    return MeasuredAssay(
        strength_rsd_pct=strength,
        total_n_rsd_pct=math.sqrt(max(0.0, own**2 - strength**2)),
        count=min(spread.count for spread in counted),
    )
