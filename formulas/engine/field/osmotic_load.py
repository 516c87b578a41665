"""How many particles a spray holds: its ideal osmotic load, osmol per litre of spray.

Every dissolved ion and every molecule of urea counts once, as at infinite dilution: 1 osmol/L is
2.5 MPa at 25 C. Real strong salts run lower, so this errs on the safe side. The count ranks
salts as the published salt indexes of chlorides, nitrates and urea do (Rader, White and
Whittaker 1943, Soil Sci. 55:201-218); for phosphates it stands higher, because soil holds them
back and a leaf does not. Molar masses: IUPAC 2021, abridged.

What is dissolved counts by its species. The rest of an analysis counts by its ions, each cation
without a known anion with a single-charged one, the larger count. Slow nitrogen has no charge
and no published molecule size: it is left out here and counts as nitrogen that burns.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formulas.engine.composition import content_pct
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.engine.units import KG_PER_LB, L_PER_GAL

#: For each solute of ``density.solutes``: molar mass in g/mol, and its particles. ``P`` and
#: ``S`` stand for any phosphate and for sulfate; ``other`` is in no analysis.
_SPECIES: Final[Mapping[str, tuple[float, Mapping[str, int]]]] = {
    "(NH4)2SO4": (132.14, {"NH4": 2, "S": 1}),
    "NH4NO3": (80.043, {"NH4": 1, "NO3": 1}),
    "NH4Cl": (53.49, {"NH4": 1, "Cl": 1}),
    "KCl": (74.55, {"K": 1, "Cl": 1}),
    "K2CO3": (138.20, {"K": 2, "other": 1}),
    "KHCO3": (100.11, {"K": 1, "other": 1}),
    "KOH": (56.105, {"K": 1, "other": 1}),
    "KNO3": (101.10, {"K": 1, "NO3": 1}),
    "K2SO4": (174.25, {"K": 2, "S": 1}),
    "KH2PO4": (136.08, {"K": 1, "P": 1}),
    "K2HPO4": (174.17, {"K": 2, "P": 1}),
    "CH3COOK": (98.14, {"K": 1, "other": 1}),
    "HCOOK": (84.115, {"K": 1, "other": 1}),
    "Ca(NO3)2": (164.09, {"Ca": 1, "NO3": 2}),
    "CaCl2": (110.98, {"Ca": 1, "Cl": 2}),
    "Mg(NO3)2": (148.31, {"Mg": 1, "NO3": 2}),
    "MgSO4": (120.36, {"Mg": 1, "S": 1}),
    "MgCl2": (95.205, {"Mg": 1, "Cl": 2}),
    "H3PO4": (97.994, {"P": 1, "other": 1}),
    "MnSO4": (150.99, {"S": 1, "other": 1}),
    "ZnSO4": (161.44, {"S": 1, "other": 1}),
    "CuSO4": (159.60, {"S": 1, "other": 1}),
    "FeSO4": (151.90, {"S": 1, "other": 1}),
    "Na2MoO4": (205.92, {"other": 3}),
    "NaNO3": (84.994, {"NO3": 1, "other": 1}),
    "Na2S2O3": (158.10, {"other": 3}),
    "K2S2O3": (190.32, {"K": 2, "other": 1}),
    "(NH4)2S2O3": (148.20, {"NH4": 2, "other": 1}),
    "urea": (60.056, {"urea": 1}),
}
#: Sulfur of a thiosulfate, atoms a molecule: it is no sulfate of the rest.
_THIOSULFATES: Final = ("Na2S2O3", "K2S2O3", "(NH4)2S2O3")
#: Particles per gram of what an analysis states.
_PER_GRAM: Final[Mapping[str, tuple[str, float]]] = {
    "K": ("K2O", 2 / 94.196),
    "NH4": ("N.ammoniacal", 1 / 14.007),
    "NO3": ("N.nitrate", 1 / 14.007),
    "urea": ("N.urea", 1 / 28.014),
    "Ca": ("Ca", 1 / 40.078),
    "Mg": ("Mg", 1 / 24.305),
    "Cl": ("Cl", 1 / 35.45),
    "P": ("P2O5", 2 / 141.94),
    "S": ("S", 1 / 32.06),
}
SALTS_WATERED_IN: Final = frozenset({"(NH4)2SO4", "(NH4)2S2O3", "K2S2O3"})
ALKALINE_SALTS: Final = frozenset({"K2CO3", "K2HPO4", "KOH"})


def osmol_per_lb(analysis: Mapping[str, float], solutes: Mapping[str, float]) -> float:
    """Osmol in a pound of product; both in percent by weight, ``solutes`` as far as known.

    >>> round(osmol_per_lb({"N.urea": 46.65}, {}), 2)
    7.55
    """
    return _osmol_per_100_g(analysis, solutes) * 10.0 * KG_PER_LB


def salt_osmol_per_lb(analysis: Mapping[str, float], solutes: Mapping[str, float]) -> float:
    """The part of ``osmol_per_lb`` that is not urea."""
    urea = max(
        _stated(analysis, "urea"), solutes.get("urea", 0.0) / _SPECIES["urea"][0]
    )  # fmt: skip
    return osmol_per_lb(analysis, solutes) - urea * 10.0 * KG_PER_LB


def osmol_per_l(osmol: float, gal: float) -> float:
    """Osmol in so many gallons of spray, per litre."""
    return osmol / (gal * L_PER_GAL)


def dissolved_pct(shares: Iterable[Share], stocks: Sequence[Stock]) -> dict[str, float]:
    """What a recipe surely holds dissolved, percent by weight by key; shares add up to 100."""
    by_code = {stock.code: stock for stock in stocks}
    found: dict[str, float] = {}
    for share in shares:
        for key, pct in by_code[share.code].solutes.items():
            found[key] = found.get(key, 0.0) + share.pct * pct / 100.0
    return {key: pct for key, pct in found.items() if pct > 0}


def triazone_n_pct(shares: Iterable[Share], stocks: Sequence[Stock]) -> float:
    """Slow nitrogen of triazone stocks in a recipe, percent by weight of the blend."""
    by_code = {stock.code: stock for stock in stocks}
    return sum(
        share.pct / 100.0 * by_code[share.code].analysis.get("N.slow", 0.0)
        for share in shares
        if "triazone" in by_code[share.code].traits
    )


def _osmol_per_100_g(analysis: Mapping[str, float], solutes: Mapping[str, float]) -> float:
    counted = 0.0
    rest = {particle: _stated(analysis, particle) for particle in _PER_GRAM}
    for key, pct in solutes.items():
        molar_mass, particles = _SPECIES[key]
        moles = pct / molar_mass
        counted += moles * sum(particles.values())
        for particle, number in particles.items():
            if particle in rest:
                rest[particle] = max(0.0, rest[particle] - moles * number)
        if key in _THIOSULFATES:
            rest["S"] = max(0.0, rest["S"] - 2 * moles)
    return counted + _ions(rest)


def _stated(analysis: Mapping[str, float], particle: str) -> float:
    nutrient, per_gram = _PER_GRAM[particle]
    return content_pct(analysis, nutrient) * per_gram


def _ions(rest: Mapping[str, float]) -> float:
    """Particles of what no species explains, charges balanced with single-charged anions."""
    cations = rest["K"] + rest["NH4"] + rest["Ca"] + rest["Mg"]
    charge = cations + rest["Ca"] + rest["Mg"]
    single = rest["NO3"] + rest["Cl"] + rest["P"]
    # Sulfur may be thiosulfate: no more of it is sulfate than there is charge left for.
    sulfate = min(rest["S"], max(0.0, charge - single) / 2)
    unknown = max(0.0, charge - single - 2 * sulfate)
    return rest["urea"] + cations + single + sulfate + unknown
