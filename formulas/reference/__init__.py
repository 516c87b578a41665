"""Fact tables with their sources, read once from TOML and validated on load."""

from formulas.reference.facts import (
    BaseStockFacts,
    CompatibilityFacts,
    CostUnit,
    DemoCost,
    InspectionFee,
    JarTest,
    JarTestStep,
    Solute,
    Source,
    TraitFacts,
)
from formulas.reference.reading import ReferenceDataError
from formulas.reference.tables import (
    base_stocks,
    compatibility_rules,
    demo_costs,
    inspection_fees,
    jar_test,
    traits,
)

__all__ = [
    "BaseStockFacts",
    "CompatibilityFacts",
    "CostUnit",
    "DemoCost",
    "InspectionFee",
    "JarTest",
    "JarTestStep",
    "ReferenceDataError",
    "Solute",
    "Source",
    "TraitFacts",
    "base_stocks",
    "compatibility_rules",
    "demo_costs",
    "inspection_fees",
    "jar_test",
    "traits",
]
