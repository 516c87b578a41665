"""The blending engine: pure functions on frozen values, no database, no clock, no files.

The question is a ``BlendProblem``, the answer ``Solved`` or ``OutOfReach``::

    >>> from formulas.engine import BlendProblem, NutrientWish, Stock, solve
    >>> urea = Stock("UREA", "Urea solution", 9.49, 0.25, {"N.urea": 23.0})
    >>> water = Stock("WATER", "Water", 8.34, 0.0, {}, traits=frozenset({"water"}))
    >>> answer = solve(BlendProblem((urea, water), (NutrientWish("N", 11.5),)))
    >>> round(answer.blend.cost_per_lb, 6), round(answer.blend.shares[0].pct, 6)
    (0.125, 50.0)
"""

from formulas.engine.blend.curve import CurvePoint, slow_release_curve
from formulas.engine.blend.evaluate import evaluate
from formulas.engine.blend.price_matrix import recipe_costs_per_lb, share_matrix
from formulas.engine.blend.sensitivity import CostRange, cost_ranges
from formulas.engine.blend.solving import solve
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.scale_weights import ScaleReady, ScaleWeight, scale_ready
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    Effect,
    FieldError,
    Fill,
    NutrientWish,
    SlowReleaseWish,
    Stock,
    StockLimit,
)
from formulas.engine.result import (
    Alternative,
    Blend,
    EngineFailure,
    Finding,
    OutOfReach,
    Reach,
    Relaxed,
    Sensitivity,
    Share,
    Solved,
)
from formulas.engine.validate import validate

__all__ = [
    "Alternative",
    "BadProblem",
    "Blend",
    "BlendProblem",
    "CompatibilityRule",
    "CostRange",
    "CurvePoint",
    "Effect",
    "EngineFailure",
    "FieldError",
    "Fill",
    "Finding",
    "NotWeighable",
    "NutrientWish",
    "OutOfReach",
    "Reach",
    "Relaxed",
    "ScaleReady",
    "ScaleWeight",
    "Sensitivity",
    "Share",
    "SlowReleaseWish",
    "Solved",
    "Stock",
    "StockLimit",
    "cost_ranges",
    "evaluate",
    "recipe_costs_per_lb",
    "scale_ready",
    "share_matrix",
    "slow_release_curve",
    "solve",
    "validate",
]
