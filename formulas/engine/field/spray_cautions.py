"""Cautions of a spray application, each with what stands behind it.

Burn is judged by pounds of quick nitrogen per gallon of spray. Nitrogen of urea-triazone counts
for ``TRIAZONE_N_BURN_WEIGHT`` of it; other slow nitrogen, for which nothing is published, counts
in full. Up to 0.25 lb/gal is low, up to 0.5
raised, above that high; above 85 F every class counts one higher. These limits are this
project's own reading of the trials, not published limits: Agnew and Moore 1989 (Iowa) saw urea
burn Kentucky bluegrass at 1 lb N in 1, 2 and 4 gal in very hot weather, methylolurea burn more
in 1 gal than in 2 or 4, and no appreciable damage from urea-triazone; Wesely 1983 (Nebraska)
saw burn rise with the N rate and fall with the volume of water.

Salts are judged by the ideal osmotic load (``osmotic_load``), all that is dissolved counted.
``SALT_RAISED_OSMOL_PER_L`` is the load of the Iowa trial's weakest urea spray, 1 lb N in 4 gal,
which burned in very hot weather; no turf trial of salts at a stated spray volume was found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from formulas.engine.field.osmotic_load import ALKALINE_SALTS, SALTS_WATERED_IN
from formulas.engine.mark import Mark
from formulas.engine.result import Finding, Severity

#: Upper end of the 0.2 to 0.3 that the trials suggest for urea-triazone.
TRIAZONE_N_BURN_WEIGHT: Final = 0.3
#: 453.592 g of N as urea, 28.014 g N a mole, in 4 gal of 3.785412 L; and twice that.
SALT_RAISED_OSMOL_PER_L: Final = 1.07
SALT_HIGH_OSMOL_PER_L: Final = 2.14
BURN_RAISED_LB_PER_GAL: Final = 0.25
BURN_HIGH_LB_PER_GAL: Final = 0.5
HOT_F: Final = 85.0
LOW_VOLUME_GAL_PER_1000SQFT: Final = 1.0
MOST_N_LB_PER_1000SQFT: Final = 1.0
MOST_QUICK_N_LB_PER_1000SQFT: Final = 0.7
#: Rates typed with a few decimals may miss a limit by this share of it.
_SLACK: Final = 1e-9

_BURN_SOURCE: Final = (
    "Agnew and Moore 1989, Iowa Turfgrass Research Report p. 69; Wesely 1983, University of "
    "Nebraska dissertation AAI8318687; the limits are this project's reading of both"
)
_SEVERITIES: Final = (Severity.INFO, Severity.CAUTION, Severity.STOP)
_BURN_WORDS: Final = ("low", "raised", "high")


@dataclass(frozen=True, slots=True)
class Application:
    """What reaches the turf, per 1,000 sq ft."""

    quick_n_lb_per_1000sqft: float
    slow_n_lb_per_1000sqft: float
    product_gal_per_1000sqft: float
    carrier_gal_per_1000sqft: float
    air_temp_f: float | None
    p2o5_lb_per_1000sqft: float
    iron_lb_per_1000sqft: float
    #: Part of the slow nitrogen that is known to be urea-triazone.
    triazone_n_lb_per_1000sqft: float = 0.0
    #: Ideal load of the whole spray, and of what is not urea in it.
    osmotic_load_osmol_per_l: float = 0.0
    salt_load_osmol_per_l: float = 0.0
    #: Keys of ``density.solutes`` of what is known to be dissolved.
    solutes: frozenset[str] = frozenset()

    @property
    def burning_n_lb_per_gal(self) -> float:
        """Quick nitrogen, triazone nitrogen at its weight and other slow nitrogen, per gallon."""
        spared = (1 - TRIAZONE_N_BURN_WEIGHT) * self.triazone_n_lb_per_1000sqft
        total = self.quick_n_lb_per_1000sqft + self.slow_n_lb_per_1000sqft
        return (total - spared) / self.carrier_gal_per_1000sqft

    @property
    def is_hot(self) -> bool:
        return self.air_temp_f is not None and self.air_temp_f > HOT_F


def spray_cautions(application: Application) -> tuple[Finding, ...]:
    """Every caution that applies, burn first; never empty."""
    return tuple(finding for rule in _RULES for finding in rule(application))


def burn_class(application: Application) -> int:
    """0 low, 1 raised, 2 high."""
    load = application.burning_n_lb_per_gal
    limits = (BURN_RAISED_LB_PER_GAL, BURN_HIGH_LB_PER_GAL)
    by_load = sum(_above(load, limit) for limit in limits)
    return min(2, by_load + application.is_hot)


def _above(value: float, limit: float) -> bool:
    return value > limit * (1 + _SLACK)


def _burn(application: Application) -> Iterator[Finding]:
    if application.burning_n_lb_per_gal <= 0:
        return
    burn = burn_class(application)
    message = (
        f"Burn risk {_BURN_WORDS[burn]}: {application.burning_n_lb_per_gal:.2f} lb of quick N per "
        f"gallon of spray (triazone N counted at {TRIAZONE_N_BURN_WEIGHT:g}, other slow N in full)."
    )
    if burn:
        message += " Use more water, less N or a slower blend, and water it off the leaf."
    if application.air_temp_f is None:
        message += f" Above {HOT_F:.0f} F it is one class higher."
    yield Finding("burn", _SEVERITIES[burn], message, _BURN_SOURCE)


def _salt(application: Application) -> Iterator[Finding]:
    if application.salt_load_osmol_per_l <= 0:
        return
    load = application.osmotic_load_osmol_per_l
    limits = (SALT_RAISED_OSMOL_PER_L, SALT_HIGH_OSMOL_PER_L)
    burn = min(2, sum(_above(load, limit) for limit in limits) + application.is_hot)
    message = (
        f"Salt load {_BURN_WORDS[burn]}: {load:.2f} osmol per litre of spray, all that is "
        f"dissolved counted ({SALT_RAISED_OSMOL_PER_L:g} as urea burned turf in very hot weather)."
    )
    if burn:
        message += " Use more water or less product, and water it off the leaf."
    yield Finding(
        "salt_load",
        Severity.CAUTION if burn else Severity.INFO,
        message,
        f"{Mark.COMMON_PRACTICE.capitalize()} (no turf trial of salts at a stated spray volume "
        "found); the anchor is urea in Agnew and Moore 1989, Iowa Turfgrass Research Report p. 69",
    )


def _salts_watered_in(application: Application) -> Iterator[Finding]:
    if application.solutes & SALTS_WATERED_IN:
        yield Finding(
            "salts_watered_in",
            Severity.CAUTION,
            "Holds a thiosulfate or ammonium sulfate: leaves may burn unless it is watered in "
            "after spraying.",
            "Kentucky bluegrass trials, New Jersey 1995-96 (abstract: ammonium sulfate, ammonium "
            "and potassium thiosulfate)",
        )


def _alkaline(application: Application) -> Iterator[Finding]:
    if application.solutes & ALKALINE_SALTS:
        yield Finding(
            "alkaline_salt",
            Severity.CAUTION,
            "Made with an alkaline salt, toxic to leaves at low strength unless acid in the blend "
            "has neutralised it: check the pH and try it on a small area.",
            "Neumann et al. 1981, on corn leaves: K2HPO4 injured from 0.05 M, KH2PO4 from 0.50 M",
        )


def _heat(application: Application) -> Iterator[Finding]:
    if application.is_hot:
        yield Finding(
            "heat",
            Severity.CAUTION,
            f"Above {HOT_F:.0f} F: wait for cooler weather.",
            f"Common extension advice, {Mark.FROM_MEMORY}; Branham 2008 (ASA poster 407) saw "
            "injury from ammonium sulfate above 20 C",
        )


def _low_volume(application: Application) -> Iterator[Finding]:
    if application.carrier_gal_per_1000sqft < LOW_VOLUME_GAL_PER_1000SQFT * (1 - _SLACK):
        yield Finding(
            "low_volume",
            Severity.CAUTION,
            f"Less than {LOW_VOLUME_GAL_PER_1000SQFT:g} gal of spray per 1,000 sq ft is low "
            "volume: the risk of burn is higher, and inhibitors do not lower it.",
            "University of Tennessee 2017 trial, as reported by a supplier",
        )


def _undiluted(application: Application) -> Iterator[Finding]:
    if application.product_gal_per_1000sqft >= application.carrier_gal_per_1000sqft * (1 - 1e-6):
        yield Finding(
            "undiluted",
            Severity.STOP,
            "The spray would be undiluted product. Add water.",
            _BURN_SOURCE,
        )


def _rate(application: Application) -> Iterator[Finding]:
    quick = application.quick_n_lb_per_1000sqft
    if _above(quick + application.slow_n_lb_per_1000sqft, MOST_N_LB_PER_1000SQFT):
        yield Finding(
            "rate",
            Severity.CAUTION,
            f"More than {MOST_N_LB_PER_1000SQFT:g} lb N per 1,000 sq ft in one application.",
            "New York State lawn leaflet: never more than 1 lb N per 1,000 sq ft; several states "
            "allow 0.9 lb (Md. Ag. 8-803.5, 3 Pa.C.S. 6813)",
        )
    if _above(quick, MOST_QUICK_N_LB_PER_1000SQFT):
        yield Finding(
            "readily_available_n",
            Severity.CAUTION,
            f"More than {MOST_QUICK_N_LB_PER_1000SQFT:g} lb of readily available N per 1,000 "
            "sq ft: above the limit of several states.",
            "Md. Ag. 8-803.5; 3 Pa.C.S. 6813; Florida 5E-1.003(2)",
        )
    if application.slow_n_lb_per_1000sqft > 0:
        yield Finding(
            "water_soluble_slow_n",
            Severity.INFO,
            "Liquid slow-release N is water soluble: some states count it as water-soluble N, "
            "all of which then counts against their limit.",
            "10 V.S.A. 1266b(a)(7); Md. Ag. 8-803.5; N.J. guidance (jerseyyards.org)",
        )


def _phosphorus(application: Application) -> Iterator[Finding]:
    if application.p2o5_lb_per_1000sqft > 0:
        yield Finding(
            "phosphorus",
            Severity.CAUTION,
            "Holds phosphate: many states forbid it on established lawns without a soil test.",
            "N.Y. ECL 17-2103; Minn. Stat. 18C.60; Wis. Stat. 94.643; Md. Ag. 8-803.5",
        )


def _iron(application: Application) -> Iterator[Finding]:
    if application.iron_lb_per_1000sqft > 0:
        yield Finding(
            "iron_stain",
            Severity.CAUTION,
            "Iron stains concrete, stone and siding: keep it off, rinse at once.",
            f"{Mark.COMMON_PRACTICE.capitalize()} (trade pages only)",
        )
        yield Finding(
            "iron_on_the_leaf",
            Severity.INFO,
            "Iron greens from the leaf: watered in it does not. More than a few lb of iron per "
            "acre may darken the turf, more so in heat and with nitrogen.",
            "University of Nebraska turf note of June 7, 2018; Hull 2000",
        )


def _always(_: Application) -> Iterator[Finding]:
    yield Finding(
        "water_in",
        Severity.INFO,
        "Water it in within 24 hours, unless the label of the product says otherwise.",
        "D.C. Code 8-104.03(b)(2); Guertal, Alabama Turf Times, spring 2020",
    )
    yield Finding(
        "drought",
        Severity.INFO,
        "Do not spray turf that is dormant or stressed by drought.",
        f"Common extension advice, {Mark.FROM_MEMORY}; Florida 5E-1.003(2) draft of 2014: "
        "only to actively growing turf",
    )
    yield Finding(
        "impervious",
        Severity.INFO,
        "Never on driveways, sidewalks or streets; return to the lawn what lands there.",
        "N.J.S.A. 58:10A-62a(2); Md. Ag. 8-803.5(c)(1); N.Y. ECL 17-2103(3)(b)",
    )
    yield Finding(
        "water_bodies",
        Severity.INFO,
        "Not near water, storm drains or ditches; not on frozen or saturated ground; not when "
        "heavy rain is expected.",
        "D.C. Code 8-104.05; 3 Pa.C.S. 6805(g)",
    )
    yield Finding(
        "local_rules",
        Severity.INFO,
        "Local ordinances, state law, the product's label and its SDS govern rates, dates and "
        "setbacks. A licensed applicator decides.",
        "N.Y. ECL 17-2105; F.S. 403.9337",
    )


_RULES: Final[tuple[Callable[[Application], Iterator[Finding]], ...]] = (
    _burn, _salt, _salts_watered_in, _alkaline, _undiluted, _low_volume, _heat, _rate,
    _phosphorus, _iron, _always,
)  # fmt: skip
