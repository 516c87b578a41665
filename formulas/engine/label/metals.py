"""Metals of a blend against limits that follow from its guarantees.

Metals are in ppm by weight (mg/kg), guarantees in percent, yearly loads in lb per acre. A metal
is never passed without a figure: a blend holds a figure only if every stock in it has one. The
limits themselves come from ``formulas.reference.metal_rules``. A screening aid: the state's own
text, an accredited laboratory and its method decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.result import Share

METALS: Final[Mapping[str, str]] = {
    "As": "Arsenic",
    "Cd": "Cadmium",
    "Co": "Cobalt",
    "Pb": "Lead",
    "Hg": "Mercury",
    "Mo": "Molybdenum",
    "Ni": "Nickel",
    "Se": "Selenium",
    "Zn": "Zinc",
}
#: The guaranteed micronutrients whose percentages are added up. Chlorine and sodium may be
#: guaranteed, but no metal comes with them: a chloride salt must not raise the limits.
MICRONUTRIENTS: Final = ("B", "Co", "Cu", "Fe", "Mn", "Mo", "Ni", "Zn")
_PER_MILLION: Final = 1_000_000


class MetalVerdict(StrEnum):
    """``no_limit``: the rule sets none for these guarantees; ``exempt``: it is a nutrient here."""

    WITHIN = "within"
    ABOVE = "above"
    NOT_ASSESSED = "not_assessed"
    NO_LIMIT = "no_limit"
    EXEMPT = "exempt"


@dataclass(frozen=True, slots=True)
class MetalRule:
    """Limits in ppm per 1 % guaranteed, each percentage counted as at least a minimum.

    Phosphate counts only from ``p2o5_applies_from`` upward. ``exempt`` metals have no limit where
    they are guaranteed themselves; ``exempt_verified`` tells whether that was read.
    """

    code: str
    name: str
    per_pct_p2o5: Mapping[str, float]
    per_pct_micronutrients: Mapping[str, float]
    p2o5_at_least: float
    micronutrients_at_least: float
    source: str
    p2o5_applies_from: float = 0.0
    exempt: frozenset[str] = frozenset()
    exempt_verified: bool = True
    exempt_note: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class YearlyRule:
    """Largest yearly addition, lb per acre."""

    lb_per_acre: Mapping[str, float]
    exempt: frozenset[str]
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class BlendMetals:
    """Ppm by metal where every stock has a figure, else the codes of the stocks without one."""

    ppm: Mapping[str, float]
    missing: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class MetalCheck:
    """One metal. ``found`` and ``limit`` are ppm, or lb per acre and year; None where unknown."""

    metal: str
    name: str
    found: float | None
    limit: float | None
    verdict: MetalVerdict
    source: str
    verified: bool = True
    note: str = ""


def blend_metals(
    shares: Iterable[Share], ppm_by_stock: Mapping[str, Mapping[str, float]]
) -> BlendMetals:
    """Metals of a recipe by weight; water too needs figures, if only zeros.

    Raises ``BadProblem`` for a figure that is no ppm.
    """
    used = [share for share in shares if share.pct > 0]
    errors = [
        error
        for share in used
        for error in _ppm_errors(f"stocks.{share.code}", ppm_by_stock.get(share.code, {}))
    ]
    if errors:
        raise BadProblem(tuple(errors))
    missing = {
        metal: lacking
        for metal in METALS
        if (lacking := tuple(s.code for s in used if metal not in ppm_by_stock.get(s.code, {})))
    }
    ppm = {
        metal: sum(share.pct / 100 * ppm_by_stock[share.code][metal] for share in used)
        for metal in METALS
        if used and metal not in missing
    }
    return BlendMetals(ppm, missing)


def limit_ppm(metal: str, guarantees: Mapping[str, float], rule: MetalRule) -> float | None:
    """The higher of the limits by phosphate and by micronutrients; None where neither applies."""
    limits = []
    p2o5 = guarantees.get("P2O5", 0.0)
    if p2o5 > 0 and p2o5 >= rule.p2o5_applies_from and metal in rule.per_pct_p2o5:
        limits.append(rule.per_pct_p2o5[metal] * max(p2o5, rule.p2o5_at_least))
    micronutrients = sum(guarantees.get(key, 0.0) for key in MICRONUTRIENTS)
    if micronutrients > 0 and metal in rule.per_pct_micronutrients:
        least = max(micronutrients, rule.micronutrients_at_least)
        limits.append(rule.per_pct_micronutrients[metal] * least)
    return max(limits, default=None)


def screen_metals(
    guarantees: Mapping[str, float], blend: BlendMetals, rule: MetalRule
) -> tuple[MetalCheck, ...]:
    """A verdict for every metal, in the order of ``METALS``."""
    return tuple(_screened(metal, guarantees, blend, rule) for metal in METALS)


def _screened(
    metal: str, guarantees: Mapping[str, float], blend: BlendMetals, rule: MetalRule
) -> MetalCheck:
    found, limit = blend.ppm.get(metal), limit_ppm(metal, guarantees, rule)
    if metal in rule.exempt and guarantees.get(metal, 0.0) > 0 and limit is not None:
        return MetalCheck(
            metal,
            METALS[metal],
            found,
            limit,
            MetalVerdict.EXEMPT,
            rule.source,
            verified=rule.exempt_verified,
            note=rule.exempt_note,
        )
    return _judged(metal, found, limit, blend.missing.get(metal, ()), rule.source)


def yearly_load(
    guarantees: Mapping[str, float],
    blend: BlendMetals,
    product_lb_per_acre_year: float,
    rule: YearlyRule,
) -> tuple[MetalCheck, ...]:
    """Metal added in a year, lb per acre, against the largest yearly addition.

    Raises ``BadProblem`` unless the product is a number above zero.
    """
    if not (math.isfinite(product_lb_per_acre_year) and product_lb_per_acre_year > 0):
        raise BadProblem((FieldError("product_lb_per_acre_year", "Must be a number above 0."),))
    checks = []
    for metal in METALS:
        ppm, limit = blend.ppm.get(metal), rule.lb_per_acre.get(metal)
        load = None if ppm is None else ppm / _PER_MILLION * product_lb_per_acre_year
        check = _judged(metal, load, limit, blend.missing.get(metal, ()), rule.source)
        if (
            check.verdict is MetalVerdict.ABOVE
            and metal in rule.exempt
            and guarantees.get(metal, 0.0) > 0
        ):
            check = MetalCheck(
                metal, check.name, load, limit, MetalVerdict.EXEMPT, rule.source, note=rule.note
            )
        checks.append(check)
    return tuple(checks)


def _judged(
    metal: str, found: float | None, limit: float | None, missing: Sequence[str], source: str
) -> MetalCheck:
    if limit is None:
        verdict, note = MetalVerdict.NO_LIMIT, "No limit for these guarantees."
    elif found is None:
        verdict = MetalVerdict.NOT_ASSESSED
        note = f"No figure for {', '.join(missing)}." if missing else "No figure."
    else:
        verdict, note = (MetalVerdict.WITHIN if found <= limit else MetalVerdict.ABOVE), ""
    return MetalCheck(metal, METALS[metal], found, limit, verdict, source, note=note)


def _ppm_errors(path: str, figures: Mapping[str, float]) -> Iterable[FieldError]:
    for metal, ppm in figures.items():
        if metal not in METALS:
            yield FieldError(f"{path}.{metal}", f"Only {', '.join(METALS)} are screened.")
        elif not (math.isfinite(ppm) and 0 <= ppm <= _PER_MILLION):
            yield FieldError(f"{path}.{metal}", "Must be ppm by weight, 0 to 1,000,000.")


def known_metals(ppm: Mapping[str, float]) -> BlendMetals:
    """A blend whose metals were analysed as a whole; raises ``BadProblem`` for a wrong figure."""
    if errors := tuple(_ppm_errors("metals_ppm", ppm)):
        raise BadProblem(errors)
    return BlendMetals(dict(ppm), {})
