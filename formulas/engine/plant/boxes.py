"""What is sure for every weight on target: exact worst cases over boxes of weights.

Each stock may be weighed anywhere in ``[w_i - t_i, w_i + t_i]``, all of them together. A row
``sum g_i w_i + c`` is least at ``sum g_i w_i - sum |g_i| t_i + c``. A content is a quotient,
``sum A_i w_i / sum w_i``: its least value r is where ``min sum (A_i - r) w_i`` is zero, found by
Dinkelbach's method (Management Science 13(7), 1967), exact after a few rounds because there are
only finitely many corners. A volume grows with each weight, so its extremes are two corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.blend.stock_table import (
    N_COLUMN,
    SLOW_COLUMNS,
    TABLE_COLUMN,
    TABLE_KEYS,
    content_table,
)
from formulas.engine.composition import with_total_n
from formulas.engine.density.mixing import volume_gal
from formulas.engine.plant.guards import Guard
from formulas.engine.plant.load import Heel
from formulas.engine.problem import Stock
from formulas.engine.result import Share

_ROUNDS = 50
_SETTLED = 1e-13


@dataclass(frozen=True, slots=True)
class Boxes:
    """Weights of the stocks used (lb, shape (n,)), how far each may be off, and the heel."""

    stocks: tuple[Stock, ...]
    weight_lb: Floats
    tolerance_lb: Floats
    heel: Heel | None = None
    density_correction: float = 1.0

    @property
    def mass_lb(self) -> float:
        """Net weight of the full tank."""
        return float(self.weight_lb.sum()) + (0.0 if self.heel is None else self.heel.mass_lb)

    def least(self, guard: Guard) -> float:
        """The least value of a guard, in percentage points of the full tank."""
        spread = np.abs(guard.row) @ self.tolerance_lb
        return float(guard.row @ self.weight_lb - spread + guard.constant) / self.mass_lb

    def shares(self) -> tuple[Share, ...]:
        """Percent by weight of what is charged, at the aimed weights."""
        return _shares(self.stocks, self.weight_lb)

    def volume_gal(self) -> float:
        """Gallons in the tank at the aimed weights, heel included."""
        return self._volume_gal(self.weight_lb)

    def least_gal(self) -> float:
        """The least volume on target."""
        return self._volume_gal(self.weight_lb - self.tolerance_lb)

    def most_gal(self) -> float:
        """The greatest volume on target."""
        return self._volume_gal(self.weight_lb + self.tolerance_lb)

    def _volume_gal(self, lb: Floats) -> float:
        standing = 0.0 if self.heel is None else self.heel.volume_gal
        return standing + volume_gal(self.stocks, list(map(float, lb))) / self.density_correction

    def analysis_pct(self) -> dict[str, float]:
        """Contents of the full tank at the aimed weights, total N among them."""
        found = self._contents(self.weight_lb)
        return {key: float(pct) for key, pct in zip(TABLE_KEYS, found, strict=True) if pct > 0}

    def slow_release_pct(self) -> float | None:
        """Slowly available share of total nitrogen at the aimed weights; None without nitrogen."""
        contents = self._contents(self.weight_lb)
        total = float(contents[N_COLUMN])
        return 100.0 * float(contents[SLOW_COLUMNS].sum()) / total if total > 0 else None

    def extremes_pct(self) -> tuple[dict[str, float], dict[str, float]]:
        """The least and the most of each content that is there at all."""
        table, heel = content_table(self.stocks), self._heel_contents()
        ones, heel_lb = np.ones(len(self.stocks)), self._heel_lb
        least, most = {}, {}
        for key in self.analysis_pct():
            column = TABLE_COLUMN[key]
            over, of_heel = table[:, column], float(heel[column]) * heel_lb
            least[key] = self._least_quotient(over, of_heel, ones, heel_lb)
            most[key] = -self._least_quotient(-over, -of_heel, ones, heel_lb)
        return least, most

    def least_part_pct(self, part_pct: Floats) -> float:
        """The least of what each stock brings of something, percent of it; a heel brings none."""
        ones = np.ones(len(self.stocks))
        return self._least_quotient(part_pct, 0.0, ones, self._heel_lb)

    def slow_release_extremes_pct(self) -> tuple[float, float] | None:
        """The least and the greatest slow share of nitrogen; None where there may be none."""
        table, heel, heel_lb = content_table(self.stocks), self._heel_contents(), self._heel_lb
        slow, total = table[:, SLOW_COLUMNS].sum(axis=1), table[:, N_COLUMN]
        heel_slow, heel_n = (
            float(heel[SLOW_COLUMNS].sum()) * heel_lb,
            float(heel[N_COLUMN]) * heel_lb,
        )
        if float(total @ (self.weight_lb - self.tolerance_lb)) + heel_n <= 0:
            return None
        least = self._least_quotient(slow, heel_slow, total, heel_n)
        most = -self._least_quotient(-slow, -heel_slow, total, heel_n)
        return 100.0 * least, 100.0 * most

    def _least_quotient(self, over: Floats, over_0: float, under: Floats, under_0: float) -> float:
        """Least ``(over w + over_0) / (under w + under_0)`` over the boxes, ``under`` >= 0."""
        low, high = self.weight_lb - self.tolerance_lb, self.weight_lb + self.tolerance_lb
        w = self.weight_lb
        found = float(over @ w + over_0) / float(under @ w + under_0)
        for _ in range(_ROUNDS):
            w = np.where(over - found * under > 0, low, high)
            better = float(over @ w + over_0) / float(under @ w + under_0)
            if better >= found - _SETTLED:
                return min(found, better)
            found = better
        return found

    def _contents(self, lb: Floats) -> Floats:
        heel_lb = self._heel_lb
        whole = lb @ content_table(self.stocks) + heel_lb * self._heel_contents()
        contents: Floats = whole / (float(lb.sum()) + heel_lb)
        return contents

    def _heel_contents(self) -> Floats:
        contents = np.zeros(len(TABLE_KEYS))
        if self.heel is not None:
            for key, pct in with_total_n(self.heel.analysis).items():
                contents[TABLE_COLUMN[key]] = pct
        return contents

    @property
    def _heel_lb(self) -> float:
        return 0.0 if self.heel is None else self.heel.mass_lb


def _shares(stocks: Sequence[Stock], lb: Floats) -> tuple[Share, ...]:
    mass = float(lb.sum())
    return tuple(
        Share(stock.code, 100.0 * float(w) / mass)
        for stock, w in zip(stocks, lb, strict=True)
        if w > 0
    )
