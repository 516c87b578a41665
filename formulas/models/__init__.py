from formulas.engine.mark import Mark
from formulas.models.base_stock import (
    LB_PER_TON,
    AnalysisFigure,
    BaseStock,
    MetalFigure,
    StockCost,
    Trait,
)
from formulas.models.blend import Blend, BlendRevision, RevisionLine
from formulas.models.compatibility import CompatibilityRule
from formulas.models.jar_test import JarShare, JarTest, JarTestWithdrawal
from formulas.models.parked_wish import ParkedWish
from formulas.reference.facts import CostUnit

__all__ = [
    "LB_PER_TON",
    "AnalysisFigure",
    "BaseStock",
    "Blend",
    "BlendRevision",
    "CompatibilityRule",
    "CostUnit",
    "JarShare",
    "JarTest",
    "JarTestWithdrawal",
    "Mark",
    "MetalFigure",
    "ParkedWish",
    "RevisionLine",
    "StockCost",
    "Trait",
]
