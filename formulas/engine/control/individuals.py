"""Individuals charts: single values in the order they came, with limits from their moving ranges.

Shewhart limits as the NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2
(Individuals Control Charts), gives them: centre the mean, one sigma the mean moving range of two
neighbours divided by d2 = 1.128, limits three of those either side, and 3.267 times the mean
range above the ranges. Both factors are the handbook's for ranges of two.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final

from formulas.engine.control.run_rules import Broken, Rule, broken_rules

SOURCE: Final = "NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2"
#: Expected range of two normal values, in their standard deviations.
D2: Final = 1.128
#: Upper limit of a range of two, in mean ranges.
D4: Final = 3.267
SIGMAS: Final = 3.0
#: Fewer values claim no limits: the house's own rule (the handbook's example has ten).
FEWEST: Final = 8
#: Relative size below which a difference is one of binary rounding.
_ROUNDING: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Limits:
    """In the unit of the values; ``sigma`` is that from one value to the next."""

    centre: float
    sigma: float
    lower: float
    upper: float
    mean_range: float
    largest_range: float


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """``ranges`` is one shorter than ``values``; no limits and no rules while there are too few."""

    values: tuple[float, ...]
    ranges: tuple[float, ...]
    limits: Limits | None
    broken: tuple[Broken, ...]

    @property
    def is_judged(self) -> bool:
        return self.limits is not None

    def rules_at(self, place: int) -> tuple[Rule, ...]:
        """The rules that the value at a place (from 0) has a part in breaking."""
        found = (each.rule for each in self.broken if each.first <= place <= each.last)
        return tuple(dict.fromkeys(found))


def individuals_chart(values: Sequence[float]) -> IndividualsChart:
    """The chart of values in the order they came; ValueError if one is not finite.

    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.limits.upper, 4), round(chart.limits.lower, 4), chart.broken
    (55.8041, 45.8159, ())
    """
    if not all(math.isfinite(value) for value in values):
        raise ValueError("A chart takes finite values only.")
    kept = tuple(values)
    ranges = tuple(abs(one - before) for before, one in pairwise(kept))
    if len(kept) < FEWEST:
        return IndividualsChart(kept, ranges, None, ())
    limits = _limits(kept, ranges)
    return IndividualsChart(kept, ranges, limits, _broken(kept, ranges, limits))


def _limits(values: Sequence[float], ranges: Sequence[float]) -> Limits:
    centre, mean_range = fmean(values), fmean(ranges)
    sigma = mean_range / D2
    return Limits(
        centre=centre,
        sigma=sigma,
        lower=centre - SIGMAS * sigma,
        upper=centre + SIGMAS * sigma,
        mean_range=mean_range,
        largest_range=D4 * mean_range,
    )


def _broken(values: Sequence[float], ranges: Sequence[float], limits: Limits) -> tuple[Broken, ...]:
    """Of the values by the run rules, then each range beyond its limit with both its values."""
    slack = _ROUNDING * max(abs(limits.centre), *(abs(value) for value in values))
    if limits.mean_range <= slack:
        return ()
    found = broken_rules(values, centre=limits.centre, sigma=limits.sigma)
    jumps = (
        Broken(Rule.JUMP, place, place + 1, above=values[place + 1] > values[place])
        for place, size in enumerate(ranges)
        if size > limits.largest_range
    )
    return (*found, *jumps)
