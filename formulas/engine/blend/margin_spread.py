"""How far the analysis of a made batch may scatter around the recipe's own.

Two things scatter, each independently of the others: the assay of every stock, and the weight
of every charge on the scale. For a row c of contents (a nutrient: 1 in its column; total N: 1
for each form; the slow-release share: its first-order row) to first order::

    var = sum_i x_i^2 [ s_i^2 (c A_i)^2 + n_i^2 (c A_i,forms)^2 + sum_k r_ik^2 (c_k A_ik)^2 ]
        + sum_i (c A_i - c a)^2 (e_i / M)^2

with shares x_i, contents A_ik and a_k in percent, batch M and scale spread e_i in lb. ``s_i`` is
the spread of the stock's strength, which moves all its contents together; ``n_i`` that of its
total N, which moves its nitrogen forms together; ``r_ik`` that of one content alone. A charge
weighed too heavy moves the blend toward that stock, hence the difference in the last sum. Two
contents share causes, so they scatter together: their covariance is the same sum of products.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.composition import ANALYSIS_KEYS, NITROGEN_FORMS, SLOW_FORMS
from formulas.engine.problem import BadProblem, FieldError, Stock
from formulas.engine.result import Blend
from formulas.engine.wishes import SLOW_RELEASE

#: Above this a first-order spread says little.
_LARGEST_RSD_PCT: Final = 30.0
_COLUMN: Final = {key: column for column, key in enumerate(ANALYSIS_KEYS)}
_IS_FORM: Final = np.array([key in NITROGEN_FORMS for key in ANALYSIS_KEYS], dtype=float)
_IS_SLOW: Final = np.array([key in SLOW_FORMS for key in ANALYSIS_KEYS], dtype=float)


@dataclass(frozen=True, slots=True)
class AssaySpread:
    """Relative standard deviations of one stock's assay, percent of the content.

    ``strength_rsd_pct`` moves all contents together (a stock that is too dilute);
    ``content_rsd_pct`` moves one, its keys those of an analysis or ``N`` for total nitrogen.
    """

    strength_rsd_pct: float = 0.0
    content_rsd_pct: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ScaleSpread:
    """Standard deviation of one charge: a fixed part and a part of the charge, independent."""

    absolute_lb: float = 0.0
    relative_pct: float = 0.0

    def lb(self, charge_lb: Floats) -> Floats:
        """Standard deviation of charges in lb."""
        return np.hypot(self.absolute_lb, self.relative_pct / 100.0 * charge_lb)


@dataclass(frozen=True, slots=True)
class Spreads:
    """What a plant knows of its scatter; ``usual_assay`` holds for stocks not named."""

    usual_assay: AssaySpread
    scale: ScaleSpread
    assay: Mapping[str, AssaySpread] = field(default_factory=dict)

    def assay_of(self, code: str) -> AssaySpread:
        """The assay spread of one stock."""
        return self.assay.get(code, self.usual_assay)


def spread_errors(spreads: Spreads) -> Iterator[FieldError]:
    """Every wrong field."""
    named = {f"assay.{code}": assay for code, assay in spreads.assay.items()}
    for path, assay in {"usual_assay": spreads.usual_assay, **named}.items():
        yield from _rsd_errors(f"{path}.strength_rsd_pct", assay.strength_rsd_pct)
        for key, rsd_pct in assay.content_rsd_pct.items():
            if key != "N" and key not in ANALYSIS_KEYS:
                yield FieldError(
                    f"{path}.content_rsd_pct.{key}", f"{key} is not a known nutrient or ingredient."
                )
            yield from _rsd_errors(f"{path}.content_rsd_pct.{key}", rsd_pct)
    yield from _rsd_errors("scale.relative_pct", spreads.scale.relative_pct)
    if not (math.isfinite(spreads.scale.absolute_lb) and spreads.scale.absolute_lb >= 0):
        yield FieldError("scale.absolute_lb", "Must be a number of pounds, 0 or more.")


def spread_pct(
    blend: Blend, stocks: Sequence[Stock], spreads: Spreads, *, batch_lb: float
) -> dict[str, float]:
    """Standard deviation of each content of a blend as made, in percentage points.

    Keys are those of the blend's analysis, and ``SLOW_RELEASE`` (points of the share) where the
    blend holds nitrogen. Raises ``BadProblem`` naming every wrong field.

    Half a stock of 20 % K2O that scatters by 2 % of that, on a perfect scale::

        >>> from formulas.engine.blend.evaluate import evaluate
        >>> from formulas.engine.result import Share
        >>> k = Stock("K", "Potash", 10.0, 0.3, {"K2O": 20.0})
        >>> water = Stock("W", "Water", 8.34, 0.0, {}, traits=frozenset({"water"}))
        >>> half = evaluate([k, water], [Share("K", 50.0), Share("W", 50.0)])
        >>> spreads = Spreads(AssaySpread(2.0), ScaleSpread())
        >>> round(spread_pct(half, [k, water], spreads, batch_lb=1000.0)["K2O"], 9)
        0.2
    """
    scatter = scatter_of(blend, stocks, spreads, batch_lb=batch_lb)
    keys = [*blend.analysis, *([] if blend.slow_release_pct is None else [SLOW_RELEASE])]
    return {key: float(np.linalg.norm(scatter.of(key))) for key in keys}


def scatter_of(
    blend: Blend, stocks: Sequence[Stock], spreads: Spreads, *, batch_lb: float
) -> Scatter:
    """Everything that scatters in a batch of this blend; raises ``BadProblem`` like above."""
    errors = [*spread_errors(spreads), *_blend_errors(blend, stocks)]
    if not (math.isfinite(batch_lb) and batch_lb > 0):
        errors.append(FieldError("batch_lb", "Must be a number of pounds above 0."))
    if errors:
        raise BadProblem(tuple(errors))
    return Scatter.in_batch(blend, stocks, spreads, batch_lb)


def content_row(key: str) -> Floats:
    """Coefficients of one content over ``ANALYSIS_KEYS``; total N is the sum of its forms."""
    if key == "N":
        return _IS_FORM.copy()
    row = np.zeros(len(ANALYSIS_KEYS))
    row[_COLUMN[key]] = 1.0
    return row


def _slow_share_row(blend: Blend) -> Floats:
    """First-order change of ``100 slow / N`` with each nitrogen form."""
    share_pct, total_n_pct = blend.slow_release_pct or 0.0, blend.analysis["N"]
    row: Floats = (100.0 * _IS_SLOW - share_pct * _IS_FORM) / total_n_pct
    return row


@dataclass(frozen=True, slots=True)
class Scatter:
    """What scatters in one batch, each cause independently of the others.

    Contents ``A`` in percent, shares ``x`` and relative spreads as fractions, over its stocks.
    """

    blend: Blend
    A: Floats
    x: Floats
    strength: Floats
    total_n: Floats
    content: Floats
    scale: Floats

    @classmethod
    def in_batch(
        cls, blend: Blend, stocks: Sequence[Stock], spreads: Spreads, batch_lb: float
    ) -> Scatter:
        by_code = {stock.code: stock for stock in stocks}
        used = [by_code[share.code] for share in blend.shares]
        assays = [spreads.assay_of(stock.code) for stock in used]
        x = np.array([share.pct for share in blend.shares]) / 100.0
        return cls(
            blend=blend,
            A=np.array([[s.analysis.get(key, 0.0) for key in ANALYSIS_KEYS] for s in used]),
            x=x,
            strength=np.array([assay.strength_rsd_pct for assay in assays]) / 100.0,
            total_n=np.array([assay.content_rsd_pct.get("N", 0.0) for assay in assays]) / 100.0,
            content=np.array(
                [[assay.content_rsd_pct.get(key, 0.0) for key in ANALYSIS_KEYS] for assay in assays]
            )
            / 100.0,
            scale=spreads.scale.lb(x * batch_lb) / batch_lb,
        )

    def of(self, key: str) -> Floats:
        """What one standard deviation of each cause does to a content, percentage points.

        ``key`` is a composition key or ``SLOW_RELEASE``. Its length is the content's standard
        deviation; the product of two contents' is their covariance.
        """
        return self._of_row(
            _slow_share_row(self.blend) if key == SLOW_RELEASE else content_row(key)
        )

    def _of_row(self, row: Floats) -> Floats:
        each = self.A @ row
        causes: Floats = np.concatenate(
            [
                self.x * self.strength * each,
                self.x * self.total_n * (self.A @ (row * _IS_FORM)),
                (self.x[:, None] * self.content * self.A * row).ravel(),
                (each - float(self.x @ each)) * self.scale,
            ]
        )
        return causes


def _rsd_errors(path: str, rsd_pct: float) -> Iterator[FieldError]:
    if not 0 <= rsd_pct <= _LARGEST_RSD_PCT:  # false for NaN as well
        yield FieldError(path, f"Must be a number from 0 to {_LARGEST_RSD_PCT:g} percent.")


def _blend_errors(blend: Blend, stocks: Sequence[Stock]) -> Iterator[FieldError]:
    codes = {stock.code for stock in stocks}
    for index, share in enumerate(blend.shares):
        if share.code not in codes:
            yield FieldError(
                f"recipe.{index}.code", f"There is no stock with the code {share.code}."
            )
