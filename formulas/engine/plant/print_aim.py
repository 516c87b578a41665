"""What the label of a load prints, sure for every weight on target.

Each form of nitrogen prints its own worst case, rounded down to two decimals. The worst cases
of the forms lie at different weights, so together they are less than the worst case of the sum:
the printed forms may fall short of a wished total that itself holds. The remedy is to aim
higher until the printed forms add up, and then to keep just those printed lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.composition import (
    NITROGEN_FORMS,
    QUICK_FORMS,
    SLOW_FORMS,
    content_pct,
    slow_n_pct,
)
from formulas.engine.plant.guards import Guard
from formulas.engine.plant.load import Heel, LoadQuestion
from formulas.engine.plant.room_program import PrintedLines
from formulas.engine.problem import Stock
from formulas.engine.wishes import SLOW_RELEASE, Side, WishId, WishKind

#: A label's figures have two decimals.
_PER_PCT: Final = 100
#: A hair of float noise must not cost a printed hundredth; the guards keep the line itself.
_HAIR: Final = 1e-7
_NOISE_PCT: Final = 1e-9

_N_AIM: Final = WishId(WishKind.AIM, Side.LEAST, "N")
_SLOW_AIM: Final = WishId(WishKind.AIM, Side.LEAST, SLOW_RELEASE)


@dataclass(frozen=True, slots=True)
class Slack:
    """Percentage points by which total nitrogen and its slow part are aimed higher."""

    n: float = 0.0
    slow: float = 0.0

    @property
    def is_none(self) -> bool:
        """Whether nothing is aimed higher."""
        return self.n <= _NOISE_PCT and self.slow <= _NOISE_PCT

    def and_more(self, more: Slack) -> Slack:
        """Both together."""
        return Slack(self.n + more.n, self.slow + more.slow)


@dataclass(frozen=True, slots=True)
class PrintAim:
    """The total that is to be printed (0: whatever the forms make) and its least slow share."""

    total_pct: float
    slow_share: float
    heel: Heel | None

    @classmethod
    def of(cls, question: LoadQuestion) -> PrintAim | None:
        """What the label has to print; None where its lines are given or nothing is wished."""
        if "N" in question.printed_pct:
            return None
        wishes = question.problem.wishes
        total = max((w.min_pct or 0.0 for w in wishes if w.nutrient == "N"), default=0.0)
        slow = question.problem.slow_release
        share = 0.0 if slow is None or slow.min_pct is None else slow.min_pct / 100.0
        return None if total <= 0 and share <= 0 else cls(total, share, question.heel)

    def missing(self, least_pct: Mapping[str, float]) -> Slack:
        """How much the printed forms are short of the total, and the slow ones of their share."""
        printed = printed_forms(least_pct)
        total = sum(printed.values())
        slow = _slow(printed)
        of = self.total_pct if self.total_pct > 0 else total
        return Slack(max(0.0, self.total_pct - total), max(0.0, self.slow_share * of - slow))

    def aimed_higher(self, stocks: Sequence[Stock], slack: Slack) -> list[Guard]:
        """Guards of total nitrogen and its slow part with the slack on top."""
        guards = []
        if slack.n > 0:
            least = self.total_pct + slack.n
            guards.append(self._guard(_N_AIM, stocks, lambda a: content_pct(a, "N") - least))
        if slack.slow > 0:
            of_n = 0.0 if self.total_pct > 0 else self.slow_share
            least_slow = self.slow_share * self.total_pct + slack.slow
            guards.append(
                self._guard(
                    _SLOW_AIM,
                    stocks,
                    lambda a: slow_n_pct(a) - of_n * content_pct(a, "N") - least_slow,
                )
            )
        return guards

    def movable(self, stocks: Sequence[Stock], printed: Mapping[str, float]) -> PrintedLines:
        """Lines as they print now, to be moved so that they still carry total and slow share."""
        forms = list(printed)
        total, slow = sum(printed.values()), _slow(printed)
        ones, is_slow = np.ones(len(forms)), np.array([float(f in SLOW_FORMS) for f in forms])
        if self.total_pct > 0:
            sums = [
                (ones, self.total_pct - total),
                (is_slow, self.slow_share * self.total_pct - slow),
            ]
        else:
            sums = [(is_slow - self.slow_share * ones, self.slow_share * total - slow)]
        return PrintedLines(
            guards=[self.line(form, pct, stocks) for form, pct in printed.items()],
            sums=[(row, least * _PER_PCT - _HAIR) for row, least in sums],
            heel_lb=0.0 if self.heel is None else self.heel.mass_lb,
        )

    def lines(self, stocks: Sequence[Stock], printed: Mapping[str, float]) -> list[Guard]:
        """Guards of the printed forms, what is beyond the total taken off the quick ones."""
        kept = dict(printed)
        beyond = sum(printed.values()) - self.total_pct if self.total_pct > 0 else 0.0
        for form in sorted(QUICK_FORMS, key=lambda form: -printed.get(form, 0.0)):
            taken = min(max(0.0, beyond), printed.get(form, 0.0))
            if taken > 0:
                kept[form] -= taken
            beyond -= taken
        return [self.line(form, pct, stocks) for form, pct in kept.items() if pct > 0]

    def line(self, form: str, pct: float, stocks: Sequence[Stock]) -> Guard:
        """The guard of one printed form."""
        limit = WishId(WishKind.AIM, Side.LEAST, form)
        return self._guard(limit, stocks, lambda analysis: analysis.get(form, 0.0) - pct)

    def _guard(
        self,
        limit: WishId,
        stocks: Sequence[Stock],
        over: Callable[[Mapping[str, float]], float],
    ) -> Guard:
        """A guard from what a pound of some analysis has beyond the limit."""
        of_heel = 0.0 if self.heel is None else over(self.heel.analysis) * self.heel.mass_lb
        return Guard(limit, np.array([over(stock.analysis) for stock in stocks]), of_heel)


def _slow(printed: Mapping[str, float]) -> float:
    return sum(printed.get(form, 0.0) for form in SLOW_FORMS)


def moved(printed: Mapping[str, float], hundredths: Iterable[float]) -> dict[str, float]:
    """Printed forms moved by so many hundredths each."""
    return {
        form: round(pct * _PER_PCT + by) / _PER_PCT
        for (form, pct), by in zip(printed.items(), hundredths, strict=True)
    }


def printed_forms(least_pct: Mapping[str, float]) -> dict[str, float]:
    """Each form of nitrogen as printed: its least content rounded down to two decimals."""
    return {
        form: math.floor(least_pct[form] * _PER_PCT + _HAIR) / _PER_PCT
        for form in NITROGEN_FORMS
        if form in least_pct
    }
