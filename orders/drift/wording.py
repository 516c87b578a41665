"""Standings and broken rules in words."""

from __future__ import annotations

from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from formulas.engine.control.run_rules import Broken, Rule
from orders.drift.series import Series, Standing

STANDING_WORDS: Final = {
    Standing.OUT: _("A point out"),
    Standing.RUN: _("A run"),
    Standing.STEADY: _("In control"),
    Standing.TOO_FEW: _("Too few points"),
}
#: By rule: above or upward, below or downward.
_TOLD: Final[dict[Rule, tuple[Promise, Promise]]] = {
    Rule.BEYOND_THREE: (_("{last} above the upper limit"), _("{last} below the lower limit")),
    Rule.JUMP: (_("jump up to {last}"), _("jump down to {last}")),
    Rule.TWO_OF_THREE: (
        _("two of three beyond 2 sigma above, up to {last}"),
        _("two of three beyond 2 sigma below, up to {last}"),
    ),
    Rule.FOUR_OF_FIVE: (
        _("four of five beyond 1 sigma above, up to {last}"),
        _("four of five beyond 1 sigma below, up to {last}"),
    ),
    Rule.EIGHT_IN_A_ROW: (
        _("{count} in a row above the mean, up to {last}"),
        _("{count} in a row below the mean, up to {last}"),
    ),
    Rule.SIX_TRENDING: (
        _("{count} in a row rising, up to {last}"),
        _("{count} in a row falling, up to {last}"),
    ),
}
_SHORT: Final[dict[Rule, Promise]] = {
    Rule.BEYOND_THREE: _("beyond a limit"),
    Rule.JUMP: _("jump"),
    Rule.TWO_OF_THREE: _("two of three beyond 2 sigma"),
    Rule.FOUR_OF_FIVE: _("four of five beyond 1 sigma"),
    Rule.EIGHT_IN_A_ROW: _("row on one side"),
    Rule.SIX_TRENDING: _("row one way"),
}


def told(series: Series, broken: Broken) -> str:
    """One broken rule, with the lot or batch it ends at."""
    upward, downward = _TOLD[broken.rule]
    return str(upward if broken.above else downward).format(
        last=series.points[broken.last].record, count=broken.last - broken.first + 1
    )


def told_now(series: Series) -> tuple[str, ...]:
    """What is broken among the newest points, the gravest rule first."""
    gravest = sorted(series.broken_now, key=lambda each: list(Rule).index(each.rule))
    return tuple(told(series, each) for each in gravest)


def rules_in_short(series: Series, place: int) -> str:
    """The rules that the point at a place has a part in, for a table."""
    return ", ".join(str(_SHORT[rule]) for rule in series.chart.rules_at(place))
