"""Run rules of a control chart: what in a row of values chance alone seldom makes.

The Western Electric rules as the NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2,
names them: one point beyond 3 sigma, two of the last three beyond 2, four of the last five beyond
1, eight in a row, all on the same side of the centre. The handbook also says the price: all four
together cry wolf about once in 92 points of a steady process, the first alone once in 371. Six in
a row steadily up or down stands there as a trend rule (from memory, unverified).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final

RULES_SOURCE: Final = "NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2"
TREND: Final = 6


class Rule(StrEnum):
    """The gravest first."""

    BEYOND_THREE = "beyond_three"
    JUMP = "jump"
    TWO_OF_THREE = "two_of_three"
    FOUR_OF_FIVE = "four_of_five"
    EIGHT_IN_A_ROW = "eight_in_a_row"
    SIX_TRENDING = "six_trending"


#: What makes a single point stand out; the others need a run of points.
OF_ONE_POINT: Final = frozenset({Rule.BEYOND_THREE, Rule.JUMP})


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule broken from one place to another (from 0, both included).

    ``above`` the centre or below it; of a jump or trend, upward or downward.
    """

    rule: Rule
    first: int
    last: int
    above: bool


@dataclass(frozen=True, slots=True)
class _Zone:
    """So many of so many neighbours farther than ``sigmas`` from the centre, on one side."""

    rule: Rule
    needed: int
    of: int
    sigmas: float


_ZONES: Final = (
    _Zone(Rule.BEYOND_THREE, 1, 1, 3.0),
    _Zone(Rule.TWO_OF_THREE, 2, 3, 2.0),
    _Zone(Rule.FOUR_OF_FIVE, 4, 5, 1.0),
    _Zone(Rule.EIGHT_IN_A_ROW, 8, 8, 0.0),
)


def broken_rules(values: Sequence[float], *, centre: float, sigma: float) -> tuple[Broken, ...]:
    """Every rule that the values break, rule by rule; what overlaps is told once.

    ``sigma`` in the unit of the values, above 0.

    >>> broken_rules([0, 0.5, 4, 0, -0.5, 0.2], centre=0, sigma=1)
    (Broken(rule=<Rule.BEYOND_THREE: 'beyond_three'>, first=2, last=2, above=True),)
    """
    if not sigma > 0:
        raise ValueError("The rules need a sigma above 0.")
    sides = {
        above: [(1 if above else -1) * (value - centre) / sigma for value in values]
        for above in (True, False)
    }
    found = [
        broken
        for zone in _ZONES
        for above, away in sides.items()
        for broken in _told_once(_in_zone(zone, away, above=above))
    ]
    found += [
        broken
        for above, away in sides.items()
        for broken in _told_once(_trending(away, above=above))
    ]
    return tuple(found)


def _in_zone(zone: _Zone, away: Sequence[float], *, above: bool) -> Iterator[Broken]:
    """Each window whose last value completes the rule, from its first value beyond to that one."""
    beyond = [place for place, value in enumerate(away) if value > zone.sigmas]
    for nth, last in enumerate(beyond):
        near = beyond[max(0, nth - zone.of + 1) : nth + 1]
        places = [place for place in near if place > last - zone.of]
        if len(places) >= zone.needed:
            yield Broken(zone.rule, places[0], last, above)


def _trending(away: Sequence[float], *, above: bool) -> Iterator[Broken]:
    """Windows of six values each farther out than the one before."""
    for last in range(TREND - 1, len(away)):
        window = away[last - TREND + 1 : last + 1]
        if all(one > before for before, one in pairwise(window)):
            yield Broken(Rule.SIX_TRENDING, last - TREND + 1, last, above)


def _told_once(broken: Iterator[Broken]) -> list[Broken]:
    """Windows of one rule and side that overlap, as one; single points stay single."""
    found: list[Broken] = []
    for each in broken:
        if found and each.first <= found[-1].last:
            found[-1] = Broken(each.rule, found[-1].first, each.last, each.above)
        else:
            found.append(each)
    return found
