"""Pure substances behind the source terms of a label: formula and one nutrient they bring.

What a formula holds is computed from the IUPAC atomic masses; the oxides P2O5 and K2O as labels
state them. Anhydrous, as dissolved. Two terms name mixtures and stand for their simplest member:
methylene urea for methylenediurea, urea-triazone for the triazone ring (common practice, no
source); their nitrogen is within a few percent of it, enough to order sources, no assay.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Substance:
    """A formula and its content of the nutrient ``key``, percent by weight."""

    formula: str
    key: str
    pct: float


#: By source term in small letters; ``potassium acetate solution`` is found as what it dissolves.
SUBSTANCES: Final[Mapping[str, Substance]] = {
    "urea": Substance("CH4N2O", "N", 46.65),
    "urea-triazone solution": Substance("C3H7N3O", "N", 41.56),
    "methylene urea": Substance("C3H8N4O2", "N", 42.41),
    "dicyandiamide": Substance("C2H4N4", "N", 66.64),
    "ammonium nitrate": Substance("NH4NO3", "N", 35.00),
    "ammonium sulfate": Substance("(NH4)2SO4", "N", 21.20),
    "ammonium thiosulfate": Substance("(NH4)2S2O3", "N", 18.90),
    "ammonium chloride": Substance("NH4Cl", "N", 26.18),
    "monoammonium phosphate": Substance("NH4H2PO4", "P2O5", 61.70),
    "diammonium phosphate": Substance("(NH4)2HPO4", "P2O5", 53.74),
    "monopotassium phosphate": Substance("KH2PO4", "P2O5", 52.15),
    "dipotassium phosphate": Substance("K2HPO4", "P2O5", 40.75),
    "phosphoric acid": Substance("H3PO4", "P2O5", 72.42),
    "potassium acetate": Substance("CH3COOK", "K2O", 47.99),
    "potassium carbonate": Substance("K2CO3", "K2O", 68.16),
    "potassium hydroxide": Substance("KOH", "K2O", 83.95),
    "potassium thiosulfate": Substance("K2S2O3", "K2O", 49.49),
    "potassium chloride": Substance("KCl", "K2O", 63.18),
    "potassium nitrate": Substance("KNO3", "K2O", 46.58),
    "potassium sulfate": Substance("K2SO4", "K2O", 54.06),
    "calcium nitrate": Substance("Ca(NO3)2", "Ca", 24.42),
    "calcium chloride": Substance("CaCl2", "Ca", 36.11),
    "magnesium sulfate": Substance("MgSO4", "Mg", 20.19),
    "magnesium nitrate": Substance("Mg(NO3)2", "Mg", 16.39),
    "magnesium chloride": Substance("MgCl2", "Mg", 25.53),
    "ferrous sulfate": Substance("FeSO4", "Fe", 36.76),
    "manganese sulfate": Substance("MnSO4", "Mn", 36.38),
    "zinc sulfate": Substance("ZnSO4", "Zn", 40.50),
    "copper sulfate": Substance("CuSO4", "Cu", 39.81),
    "sodium molybdate": Substance("Na2MoO4", "Mo", 46.59),
    "boric acid": Substance("H3BO3", "B", 17.48),
}
