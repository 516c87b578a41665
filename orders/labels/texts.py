"""Standing directions and cautions of a label draft, each with where it comes from.

A starting point for the reviewer, who checks them against the state's own text and local code.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final

from blendshop.figures.readers import house
from formulas.engine.composition import content_pct
from formulas.engine.label.rules import WARNINGS
from formulas.engine.mark import Mark
from formulas.engine.units import FL_OZ_PER_GAL, product_gal_per_lb
from orders.papers import standing_texts
from orders.papers.standing_texts import StandingText

RATE_BY_LAW: Final = StandingText(
    "Rate: as set by the licensed applicator from the analysis above and local code.",
    Mark.COMMON_PRACTICE,
)
DIRECTIONS: Final = (
    StandingText(
        "Jar-test every tank mix first: add the products one at a time to a pint of the actual"
        " water, shake after each, let it stand 15 minutes, and look for layers, clumps, grains,"
        " foam, sludge or warmth.",
        "Utah State University Extension, jar test for spray mixes",
    ),
    StandingText("Agitate or recirculate before use.", Mark.FROM_MEMORY),
    StandingText(
        "Water in within 24 hours with enough water to bring the nutrients into the soil.",
        "D.C. Code 8-104.03(b)(2)",
    ),
)
#: Open points of a draft that only a person can settle.
STATED_AT_F: Final = 68.0
OTHER_TEMPERATURE: Final = (
    "The density does not stand at 68 °F, at which Oregon asks for it on bulk liquids. Source:"
    " ORS 633.321(1)(e)."
)
ABBREVIATION: Final = (
    "A source is named by an abbreviation (such as EDTA); Oregon allows none. Source:"
    " ORS 633.321(1)(g)."
)
PURPOSE: Final = (
    "The purpose statement below the beneficial substances is the registrant's to write and to"
    " prove. Heading and block: Mont. Admin. R. 4.12.604(1)(f); some states want the heading of"
    f" the older practice, or no claim at all ({Mark.FROM_MEMORY})."
)
FULVIC: Final = f"Several states refuse a fulvic acid claim ({Mark.FROM_MEMORY})."
YEARLY_METALS: Final = (
    "Washington limits metals by yearly addition at the label's largest rate (WAC 16-200-7064);"
    " not assessed here, because the draft knows no yearly rate."
)
#: Warnings by guarantee: the sentence stands on the label from the content on at which the first
#: of the states read asks for one (``label_rules.WARNINGS``); the state's own wording decides.
BORON: Final = StandingText(
    "This fertilizer contains boron, which may injure some plants: follow the directions and do"
    " not exceed the rate.",
    "after WAC 16-200-711 and 355 IAC 2-1-5",
)
MOLYBDENUM: Final = StandingText(
    "CAUTION: use only where plants respond to molybdenum. Plants high in molybdenum are toxic to"
    " grazing animals.",
    "after WAC 16-200-711",
)
#: What a small label leaves to the placard beside it: how and where to apply and to store. The
#: package itself keeps what a state prescribes, warnings, hazard classes and how to handle it.
ON_PLACARD: Final = frozenset(
    {*standing_texts.CAUTIONS, standing_texts.IRON, standing_texts.PHOSPHATE}
    - {standing_texts.HANDLING}
)
SPLIT: Final = (
    "Where the label of 4 by 6 inches has no room, directions and the cautions on applying and"
    " storing stand on the placard of the same package alone"
    f" ({Mark.COMMON_PRACTICE}); the state's own text decides."
)
_WARNING_TEXTS: Final[Mapping[str, StandingText]] = {"B": BORON, "Mo": MOLYBDENUM}


def warnings(guarantees: Mapping[str, Decimal]) -> tuple[StandingText, ...]:
    """The warnings that guarantees (percent by key) call for, once each."""
    called = dict.fromkeys(
        key for key, pct in guarantees.items() for rule in WARNINGS if rule.applies(key, pct)
    )
    return tuple(_WARNING_TEXTS[key] for key in called if key in _WARNING_TEXTS)


def on_package(cautions: Iterable[StandingText]) -> tuple[StandingText, ...]:
    """The cautions that also the smallest label prints (split: common practice, no source)."""
    return tuple(caution for caution in cautions if caution not in ON_PLACARD)


def directions(
    analysis: Mapping[str, float], density_lb_per_gal: float, n_rate_lb_per_1000sqft: float | None
) -> tuple[StandingText, ...]:
    """Rate (fluid ounces for the asked pounds of N per 1,000 sq ft), then how to use it."""
    n_pct = content_pct(analysis, "N")
    if n_rate_lb_per_1000sqft is None or n_pct <= 0:
        return (RATE_BY_LAW, *DIRECTIONS)
    gal = product_gal_per_lb(n_pct, density_lb_per_gal) * n_rate_lb_per_1000sqft
    rate = (
        f"{house().number(gal * FL_OZ_PER_GAL, 1)} fl oz of product per 1,000 sq ft bring"
        f" {house().significant(n_rate_lb_per_1000sqft)} lb of nitrogen; local code may allow less."
    )
    return (StandingText(rate, "computed from analysis and density"), *DIRECTIONS)
