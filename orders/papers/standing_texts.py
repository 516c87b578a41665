"""Standing cautions, each with where it comes from.

Labels print them as they stand here, in English; what else a customer reads says them in its
language (``told_to_customers``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

from formulas.engine.law.mixture_hazards import MixtureHazard
from formulas.engine.mark import Mark
from formulas.wording.contents import hazard_sentence, source_words


@dataclass(frozen=True, slots=True)
class StandingText:
    """One printed sentence and its source."""

    text: str
    source: str


#: What whoever handles the package needs beside any hazard class.
HANDLING: Final = StandingText(
    _(
        "Read the SDS of the product before use. Wear goggles and chemical-resistant gloves. Keep"
        " out of reach of children. Not for aquatic use."
    ),
    Mark.FROM_MEMORY,
)
CAUTIONS: Final = (
    StandingText(
        _(
            "Do not apply near water, storm drains or drainage ditches. Do not apply if heavy rain"
            " is expected."
        ),
        "D.C. Code 8-104.05; 3 Pa.C.S. 6805(g)",
    ),
    StandingText(
        _(
            "Apply to turf only. Keep off driveways, sidewalks, streets and other impervious"
            " surfaces; return or contain at once what lands there."
        ),
        "N.J.S.A. 58:10A-62a(2); Md. Code Ag. 8-803.5(c)(1); N.Y. ECL 17-2103(3)(b);"
        " 415 ILCS 65/5a(a)(2)",
    ),
    StandingText(
        _(
            "Can burn turf when applied above recommended rates or concentrations, above all in"
            " heat or drought."
        ),
        "Wis. Adm. Code ATCP 40.08; Agnew and Moore 1989 (liquid N on Kentucky bluegrass)",
    ),
    StandingText(
        _(
            "Check with your county or city government for local fertilizer rules; rates, seasons"
            " and setbacks differ."
        ),
        "Florida Administrative Register, notice of change for 5E-1.003(2)3, 11/10/2014",
    ),
    HANDLING,
    StandingText(
        _(
            "Store closed in a waterproof container, indoors or raised; clean up spills on hard"
            " surfaces promptly."
        ),
        "D.C. Department of Energy and Environment, fertilizer best practices",
    ),
    StandingText(
        _("Keep from freezing. Do not store or pump through brass, copper or zinc."),
        Mark.FROM_MEMORY,
    ),
)

IRON: Final = StandingText(
    _("Contains iron: stains concrete and stone; rinse splashes off before they dry."),
    Mark.COMMON_PRACTICE,
)

PHOSPHATE: Final = StandingText(
    _(
        "Contains phosphate: many states allow it on lawns only after a soil test, for"
        " establishment or for repair."
    ),
    "Md. Code Ag. 8-803.5; Minn. Stat. 18C.60; N.Y. ECL 17-2103; RCW 15.54.500",
)


def cautions(
    analysis: Mapping[str, float], hazards: Iterable[MixtureHazard] = ()
) -> tuple[StandingText, ...]:
    """Hazard classes the product is in for certain, what every lawn product and what its contents
    call for.
    """
    classes = (StandingText(each.sentence, each.sources) for each in hazards if each.is_certain)
    return (*classes, *CAUTIONS, *_by_content(analysis))


def told_to_customers(
    analysis: Mapping[str, float], hazards: Iterable[MixtureHazard] = ()
) -> tuple[StandingText, ...]:
    """``cautions`` in the language that is being written; in English the same."""
    classes = (
        StandingText(hazard_sentence(each), each.sources) for each in hazards if each.is_certain
    )
    standing = (
        StandingText(gettext(each.text), source_words(each.source)) for each in cautions(analysis)
    )
    return (*classes, *standing)


def _by_content(analysis: Mapping[str, float]) -> Iterator[StandingText]:
    if analysis.get("Fe", 0.0) > 0:
        yield IRON
    if analysis.get("P2O5", 0.0) > 0:
        yield PHOSPHATE
