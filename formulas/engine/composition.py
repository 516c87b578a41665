"""Composition keys: what a stock or a blend is made of, in percent by weight.

The same keys are used in the engine, the JSON contracts, the database and on the label.
Nitrogen is stored by form only; total ``N`` is always their sum and is never stored beside
them, so the two cannot disagree. ``P2O5`` and ``K2O`` are oxides, all other nutrients are
elements: the basis on which a guaranteed analysis is stated.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Nutrients in the order of a guaranteed analysis (WAC 16-200-711(2), Utah R68-3-4(2)(c)).
NUTRIENTS: Final = (
    "N", "P2O5", "K2O", "Ca", "Mg", "S",
    "B", "Cl", "Co", "Cu", "Fe", "Mn", "Mo", "Ni", "Na", "Zn",
)  # fmt: skip
NITROGEN_FORMS: Final = ("N.ammoniacal", "N.nitrate", "N.urea", "N.slow", "N.insoluble")
SLOW_FORMS: Final = ("N.slow", "N.insoluble")
QUICK_FORMS: Final = ("N.ammoniacal", "N.nitrate", "N.urea")
#: Ingredients that are guaranteed or tracked but are not plant nutrients.
OTHER_INGREDIENTS: Final = ("humic_acid", "fulvic_acid", "seaweed_extract", "NBPT", "DCD")

#: Keys under which a stock's analysis may be given (total N is derived).
ANALYSIS_KEYS: Final = NITROGEN_FORMS + NUTRIENTS[1:] + OTHER_INGREDIENTS
#: Keys a wish may name.
WISH_KEYS: Final = NUTRIENTS + NITROGEN_FORMS + OTHER_INGREDIENTS

NAMES: Final[Mapping[str, str]] = {
    "N": "Total nitrogen", "N.ammoniacal": "Ammoniacal nitrogen", "N.nitrate": "Nitrate nitrogen",
    "N.urea": "Urea nitrogen", "N.slow": "Slowly available water soluble nitrogen",
    "N.insoluble": "Water insoluble nitrogen", "P2O5": "Available phosphate",
    "K2O": "Soluble potash", "Ca": "Calcium", "Mg": "Magnesium", "S": "Sulfur", "B": "Boron",
    "Cl": "Chlorine", "Co": "Cobalt", "Cu": "Copper", "Fe": "Iron", "Mn": "Manganese",
    "Mo": "Molybdenum", "Ni": "Nickel", "Na": "Sodium", "Zn": "Zinc",
    "humic_acid": "Humic acid", "fulvic_acid": "Fulvic acid",
    "seaweed_extract": "Seaweed extract", "NBPT": "NBPT (urease inhibitor)",
    "DCD": "DCD (nitrification inhibitor)",
}  # fmt: skip
#: As a table heads its rows. Elements and inhibitors go by their symbol, oxides with subscripts;
#: what a label must call them by law stands in ``label.rules.LABELS``.
SHORT_NAMES: Final[Mapping[str, str]] = {key: key for key in WISH_KEYS} | {
    "N": "Total N", "N.ammoniacal": "Ammoniacal N", "N.nitrate": "Nitrate N", "N.urea": "Urea N",
    "N.slow": "Slow-release N (water soluble)", "N.insoluble": "Water insoluble N",
    "P2O5": "P\u2082O\u2085", "K2O": "K\u2082O",
    **{key: NAMES[key] for key in ("humic_acid", "fulvic_acid", "seaweed_extract")},
}  # fmt: skip

#: Beside the contents of a batch: slowly available nitrogen, percent of total nitrogen.
SLOW_RELEASE: Final = "slow_release"


def guarantee_name(key: str) -> str:
    """What a promised figure is called: ``Soluble potash``; the slow-release share by its words."""
    return "Slow-release share of nitrogen" if key == SLOW_RELEASE else NAMES.get(key, key)


def content_pct(analysis: Mapping[str, float], key: str) -> float:
    """Percent by weight of ``key``; ``N`` is the sum of the nitrogen forms."""
    if key == "N":
        return sum(analysis.get(form, 0.0) for form in NITROGEN_FORMS)
    return analysis.get(key, 0.0)


def slow_n_pct(analysis: Mapping[str, float]) -> float:
    """Slowly available nitrogen, percent by weight of the product."""
    return sum(analysis.get(form, 0.0) for form in SLOW_FORMS)


def slow_release_pct_of_n(analysis: Mapping[str, float]) -> float | None:
    """Slowly available share of total nitrogen in percent; None without nitrogen."""
    total = content_pct(analysis, "N")
    return 100.0 * slow_n_pct(analysis) / total if total > 0 else None


def with_total_n(analysis: Mapping[str, float]) -> dict[str, float]:
    """The analysis with its derived total ``N`` first, in label order, zeros left out."""
    ordered = (*NUTRIENTS[:1], *NITROGEN_FORMS, *NUTRIENTS[1:], *OTHER_INGREDIENTS)
    values = {key: content_pct(analysis, key) for key in ordered}
    return {key: value for key, value in values.items() if value > 0}


def in_label_order(analysis: Mapping[str, float]) -> dict[str, float]:
    """A stored analysis as a label lists it; PostgreSQL keeps JSON keys in an order of its own.

    Total nitrogen that stands there without its forms, as a laboratory may find it, too.
    """
    total = {"N": analysis["N"]} if analysis.get("N") else {}
    rest = {key: analysis[key] for key in with_total_n(analysis) if key in analysis}
    return {**total, **rest}
