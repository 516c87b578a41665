"""Weights a plant can really weigh: whole steps of each stock's scale that keep every guarantee.

Data: step ``q_i`` (lb), density ``rho_i``, target weight ``t_i`` of each stock in the recipe.
Variables: whole numbers ``k_i >= 1``, weight ``w_i = q_i k_i``::

    min  sum |w_i - t_i|
    subject to  sum (A_ki - G_k) w_i >= 0      each guaranteed minimum (<= 0 each maximum)
                amount (1 - tol) <= amount made <= amount (1 + tol)

In words: the weighable batch nearest to the recipe in which no guarantee is missed by a hair,
as naive rounding would. Every stock of the recipe stays in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from formulas.engine.blend.choices import rule_is_broken
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import Floats, Limits, Program
from formulas.engine.composition import WISH_KEYS
from formulas.engine.density.mixing import partial_volumes_gal_per_lb
from formulas.engine.plant.guards import Guard, limit_guards
from formulas.engine.plant.nearest_steps import SearchTooLarge, Steps, nearest_steps
from formulas.engine.plant.not_weighable import Amount, NotWeighable
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    FieldError,
    Fill,
    NutrientWish,
    Stock,
)
from formulas.engine.result import Blend, EngineFailure, Share
from formulas.engine.validate import validate

#: Batches may differ from the asked amount by this much unless the caller says otherwise.
USUAL_TOLERANCE_PCT: Final = 0.5
#: Nodes of one search for steps; what has none by then counts as having none.
_MOST_NODES: Final = 10_000
#: Percentage points by which a guarantee may be missed after weighing: float noise only.
_NOISE_PCT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ScaleWeight:
    """Weight of one stock: ``steps`` whole steps of its scale."""

    code: str
    weight_lb: float
    steps: int


@dataclass(frozen=True, slots=True)
class ScaleReady:
    """A weighable batch; ``blend`` is what these weights really make."""

    weights: tuple[ScaleWeight, ...]
    mass_lb: float
    volume_gal: float
    blend: Blend


def scale_ready(
    stocks: Sequence[Stock],
    blend: Blend,
    fill: Fill,
    *,
    guarantees: BlendProblem | Mapping[str, float],
    rules: Sequence[CompatibilityRule] = (),
    tolerance_pct: float = USUAL_TOLERANCE_PCT,
) -> ScaleReady:
    """Weights for ``fill`` nearest to the recipe of ``blend`` that keep every guarantee.

    ``guarantees`` is the question the blend answers (all its limits and rules are kept) or a
    mapping of guaranteed minima in percent by weight, such as a label's; ``rules`` then names
    the compatibility rules to keep. The amount made may differ from ``fill`` by
    ``tolerance_pct``. Raises ``NotWeighable`` naming what cannot hold, ``BadProblem`` for wrong
    input.
    """
    problem = _as_problem(stocks, fill, guarantees, rules)
    if not 0 <= tolerance_pct <= 100:
        raise BadProblem((FieldError("tolerance_pct", "Must be from 0 to 100 percent."),))
    batch = _Batch.of(problem, blend, tolerance_pct)
    steps = batch.nearest()
    if steps is None:
        raise batch.reason()
    weights = tuple(
        ScaleWeight(stock.code, float(Fraction(str(stock.scale_step_lb)) * count), count)
        for stock, count in zip(batch.stocks, steps, strict=True)
    )
    return _checked(problem, batch, weights)


@dataclass(frozen=True, slots=True)
class _Batch:
    """The stocks of one recipe, their target weights and what must be kept."""

    problem: BlendProblem
    stocks: tuple[Stock, ...]
    target_lb: Floats
    guards: tuple[Guard, ...]
    amount: Amount
    amount_row: Floats
    amount_range: tuple[float, float]

    @classmethod
    def of(cls, problem: BlendProblem, blend: Blend, tolerance_pct: float) -> _Batch:
        pct = {share.code: share.pct for share in blend.shares if share.pct > 0}
        unknown = sorted(set(pct) - {stock.code for stock in problem.stocks})
        if unknown:
            raise BadProblem(
                tuple(FieldError("recipe", f"There is no stock {code}.") for code in unknown)
            )
        stocks = tuple(stock for stock in problem.stocks if stock.code in pct)
        fraction = np.array([pct[stock.code] for stock in stocks]) / 100.0
        gal_per_lb = np.array(partial_volumes_gal_per_lb(stocks, fraction.tolist()))
        if problem.fill.volume_gal is not None:
            unit, row, amount = "gal", gal_per_lb, problem.fill.volume_gal
        else:
            unit, row, amount = "lb", np.ones(len(stocks)), problem.fill.mass_lb or 0.0
        slack = amount * tolerance_pct / 100.0
        return cls(
            problem=problem,
            stocks=stocks,
            target_lb=fraction * amount / float(fraction @ row),
            guards=tuple(limit_guards(problem, stocks)),
            amount=Amount(amount, unit, tolerance_pct),
            amount_row=row,
            amount_range=(amount - slack, amount + slack),
        )

    def nearest(self) -> list[int] | None:
        """Whole steps of each stock nearest to the recipe, None if there are none."""
        step = np.array([stock.scale_step_lb for stock in self.stocks])
        mass = float(self.target_lb.sum())
        rows = [guard.row / mass for guard in self.guards]
        low, high = self.amount_range
        try:
            found = nearest_steps(
                Steps(
                    step_lb=step,
                    target_lb=self.target_lb,
                    rows=np.array([*rows, self.amount_row]) * step,
                    low=np.append(np.zeros(len(rows)), low),
                    high=np.append(np.full(len(rows), np.inf), high),
                )
            )
        except SearchTooLarge as search:
            return self.general_search(self.guards, within_lb=search.within_lb)
        return None if found is None else [round(count) for count in found]

    def general_search(
        self,
        guards: Sequence[Guard],
        *,
        whole: bool = True,
        keep_amount: bool = True,
        nearest: bool = True,
        within_lb: float = np.inf,
    ) -> list[int] | None:
        """Whole steps of each stock nearest to the recipe (or any), None if there are none."""
        n, m = len(self.stocks), len(guards)
        step = np.array([stock.scale_step_lb for stock in self.stocks])
        # Columns: steps, then each stock's deviation in lb. Rows: guards in percent of the
        # batch, the amount, and deviation >= +-(weight - target).
        mass = float(self.target_lb.sum())
        A = np.zeros((m + 1 + 2 * n, 2 * n))
        for position, guard in enumerate(guards):
            A[position, :n] = guard.row * step / mass
        A[m, :n] = self.amount_row * step
        for i in range(n):
            A[m + 1 + i, [i, n + i]] = (-step[i], 1.0)
            A[m + 1 + n + i, [i, n + i]] = (step[i], 1.0)
        low, high = self.amount_range if keep_amount else (-np.inf, np.inf)
        program = Program(
            cost=np.append(np.zeros(n), np.ones(n) if nearest else np.zeros(n)),
            A=A,
            limits=Limits(
                np.concatenate([np.zeros(m), [low], -self.target_lb, self.target_lb]),
                np.concatenate([np.full(m, np.inf), [high], np.full(2 * n, np.inf)]),
                np.append(np.ones(n) if whole else np.zeros(n), np.zeros(n)),
                np.append(
                    np.floor((self.target_lb + within_lb) / step + _NOISE_PCT),
                    np.full(n, within_lb + _NOISE_PCT),
                ),
            ),
            integer=np.arange(2 * n) < (n if whole else 0),
        )
        optimum = Session(program).run_within_nodes(_MOST_NODES)
        return None if optimum is None else [round(count) for count in optimum.x[:n]]

    def reason(self) -> NotWeighable:
        """Why no whole steps will do: the limits whose absence would make it possible."""
        limits = tuple(
            guard.limit
            for guard in self.guards
            if self._is_possible([other for other in self.guards if other is not guard])
        )
        amount = self.amount if self._is_possible(self.guards, keep_amount=False) else None
        if not limits and amount is None:
            limits, amount = tuple(guard.limit for guard in self.guards), self.amount
        finer_would_do = self._is_possible(self.guards, whole=False)
        coarsest = max(self.stocks, key=lambda stock: stock.scale_step_lb)
        return NotWeighable(self.problem, limits, amount, coarsest if finer_would_do else None)

    def _is_possible(
        self, guards: Sequence[Guard], *, whole: bool = True, keep_amount: bool = True
    ) -> bool:
        steps = self.general_search(guards, whole=whole, keep_amount=keep_amount, nearest=False)
        return steps is not None


def _as_problem(
    stocks: Sequence[Stock],
    fill: Fill,
    guarantees: BlendProblem | Mapping[str, float],
    rules: Sequence[CompatibilityRule],
) -> BlendProblem:
    if isinstance(guarantees, BlendProblem):
        problem = BlendProblem(
            stocks=tuple(stocks),
            wishes=guarantees.wishes,
            slow_release=guarantees.slow_release,
            stock_limits=guarantees.stock_limits,
            exclude=guarantees.exclude,
            rules=(*guarantees.rules, *rules),
            smallest_charge_pct=guarantees.smallest_charge_pct,
            most_stocks=guarantees.most_stocks,
            fill=fill,
        )
    else:
        unknown = [key for key in guarantees if key not in WISH_KEYS]
        if unknown:
            raise BadProblem(
                tuple(FieldError(f"guarantees.{key}", "Not a known nutrient.") for key in unknown)
            )
        wishes = tuple(NutrientWish(key, least) for key, least in guarantees.items())
        problem = BlendProblem(tuple(stocks), wishes, rules=tuple(rules), fill=fill)
    validate(problem)
    return problem


def _checked(problem: BlendProblem, batch: _Batch, weights: tuple[ScaleWeight, ...]) -> ScaleReady:
    """Recompute everything from the weights that will be printed, and refuse a miss."""
    lb = np.array([weight.weight_lb for weight in weights])
    mass = float(lb.sum())
    for guard in batch.guards:
        if float(guard.row @ lb) / mass < -_NOISE_PCT:
            raise EngineFailure(f"The weights do not keep {guard.limit}.")
    low, high = batch.amount_range
    amount = float(batch.amount_row @ lb)
    if not low * (1 - 1e-9) <= amount <= high * (1 + 1e-9):
        raise EngineFailure(f"The weights do not keep {batch.amount}.")
    pct = lb * (100.0 / mass)
    if any(rule_is_broken(rule, batch.stocks, pct) for rule in problem.rules):
        raise EngineFailure("The weights break a compatibility rule.")
    shares = [Share(weight.code, float(share)) for weight, share in zip(weights, pct, strict=True)]
    blend = evaluate(problem.stocks, shares, problem.rules)
    return ScaleReady(
        weights=weights,
        mass_lb=mass,
        volume_gal=mass / blend.density_lb_per_gal,
        blend=blend,
    )
