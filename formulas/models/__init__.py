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
from formulas.models.catalogue_version import CatalogueVersion
from formulas.models.compatibility import CompatibilityRule
from formulas.models.draft_wish import DraftWish
from formulas.models.jar_test import JarShare, JarTest, JarTestWithdrawal
from formulas.models.recipe_review import RecipeReview
from formulas.models.repricing import CostState, RecipeBlock, Repricing, RevisionCost
from formulas.reference.facts import CostUnit

__all__ = [
    "LB_PER_TON",
    "AnalysisFigure",
    "BaseStock",
    "Blend",
    "BlendRevision",
    "CatalogueVersion",
    "CompatibilityRule",
    "CostState",
    "CostUnit",
    "DraftWish",
    "JarShare",
    "JarTest",
    "JarTestWithdrawal",
    "Mark",
    "MetalFigure",
    "RecipeBlock",
    "RecipeReview",
    "Repricing",
    "RevisionCost",
    "RevisionLine",
    "StockCost",
    "Trait",
]
