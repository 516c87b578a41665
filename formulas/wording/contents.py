"""What a blend holds and the hazard classes it is in, in the words of the reader's language.

The engine and the tables name them in English, as labels must; what stands here is marked for
papers and pages that a customer reads. A label's own lines never go through this.
"""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from formulas.engine.law.mixture_hazards import MixtureHazard

#: Names of contents that are words; symbols stay as they are.
CONTENTS: Final = frozenset(
    {
        gettext_noop("Total nitrogen"),
        gettext_noop("Ammoniacal nitrogen"),
        gettext_noop("Nitrate nitrogen"),
        gettext_noop("Urea nitrogen"),
        gettext_noop("Slowly available water soluble nitrogen"),
        gettext_noop("Water insoluble nitrogen"),
        gettext_noop("Slow-release share of nitrogen"),
        gettext_noop("Available phosphate"),
        gettext_noop("Soluble potash"),
        gettext_noop("Calcium"),
        gettext_noop("Magnesium"),
        gettext_noop("Sulfur"),
        gettext_noop("Boron"),
        gettext_noop("Chlorine"),
        gettext_noop("Cobalt"),
        gettext_noop("Copper"),
        gettext_noop("Iron"),
        gettext_noop("Manganese"),
        gettext_noop("Molybdenum"),
        gettext_noop("Nickel"),
        gettext_noop("Sodium"),
        gettext_noop("Zinc"),
        gettext_noop("Humic acid"),
        gettext_noop("Fulvic acid"),
        gettext_noop("Seaweed extract"),
        gettext_noop("NBPT (urease inhibitor)"),
        gettext_noop("DCD (nitrification inhibitor)"),
        gettext_noop("Total N"),
        gettext_noop("Ammoniacal N"),
        gettext_noop("Nitrate N"),
        gettext_noop("Urea N"),
        gettext_noop("Slow-release N (water soluble)"),
        gettext_noop("Water insoluble N"),
    }
)
#: What the table of hazard classes says of a class, and whom it names for it.
HAZARDS: Final = frozenset(
    {
        gettext_noop("may damage fertility or the unborn child (H360)"),
        gettext_noop("suspected of damaging fertility or the unborn child (H361)"),
        gettext_noop("may cause cancer (H350)"),
        gettext_noop("may cause an allergic skin reaction (H317)"),
        gettext_noop("causes serious eye damage (H318)"),
        gettext_noop("severe marine pollutant in transport (49 CFR 172.101)"),
        gettext_noop("borates, counted as boric acid"),
        gettext_noop("calcium nitrate"),
        gettext_noop("zinc sulfate"),
        gettext_noop("copper sulfate"),
        gettext_noop("free formaldehyde"),
    }
)
#: What stocks carry that others must not meet, by the shipped table; a plant may add its own.
TRAITS: Final = frozenset(
    {
        gettext_noop("Water"),
        gettext_noop("Urea"),
        gettext_noop("Ammonium"),
        gettext_noop("Nitrate"),
        gettext_noop("Urea-triazone"),
        gettext_noop("Urea-formaldehyde condensate"),
        gettext_noop("Phosphate"),
        gettext_noop("Acid"),
        gettext_noop("Strong alkali"),
        gettext_noop("Alkaline phosphate"),
        gettext_noop("Carbonate"),
        gettext_noop("Potassium salt"),
        gettext_noop("Chloride"),
        gettext_noop("Thiosulfate"),
        gettext_noop("Sulfate"),
        gettext_noop("Calcium"),
        gettext_noop("Magnesium"),
        gettext_noop("Non-chelated iron"),
        gettext_noop("Unchelated metal"),
        gettext_noop("Unchelated copper, manganese or zinc"),
        gettext_noop("Molybdate"),
        gettext_noop("Chelated metal"),
        gettext_noop("EDTA iron"),
        gettext_noop("DTPA iron"),
        gettext_noop("EDDHA iron"),
        gettext_noop("Chelated iron"),
        gettext_noop("Chelated micronutrient package"),
        gettext_noop("Borate"),
        gettext_noop("Humic extract"),
        gettext_noop("Fulvic extract"),
        gettext_noop("Seaweed extract"),
        gettext_noop("Concentrated salt solution"),
    }
)
_SIGNALS: Final = frozenset({gettext_noop("Danger"), gettext_noop("Warning")})
_MARKS: Final = frozenset(
    {
        gettext_noop("common practice, no source"),
        gettext_noop("from memory, unverified"),
    }
)


def content_word(name: str) -> str:
    """``Nitrógeno total`` for ``Total nitrogen``; a symbol as it is."""
    return _known(name, CONTENTS)


def trait_word(name: str) -> str:
    """``Fosfato`` for ``Phosphate``; a trait of the plant's own as it is called there."""
    return _known(name, TRAITS)


def source_words(source: str) -> str:
    """The mark of a figure without a source, in words; a citation as it was published."""
    return _known(source, _MARKS)


def hazard_sentence(found: MixtureHazard) -> str:
    """``MixtureHazard.sentence`` in the reader's language; in English letter by letter."""
    hazard = found.hazard
    return _("{signal}: {words}. Contains {names}.").format(
        signal=_known(hazard.signal, _SIGNALS).upper(),
        words=_known(hazard.words, HAZARDS),
        names=", ".join(_known(part.name, HAZARDS) for part, _pct in found.found),
    )


def _known(text: str, marked: frozenset[str]) -> str:
    return _(text) if text in marked else text
