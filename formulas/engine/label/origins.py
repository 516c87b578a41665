"""Who supplies what on a label: "derived from", slow-release sources, sources of the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formulas.engine.composition import NITROGEN_FORMS, NUTRIENTS, SLOW_FORMS
from formulas.engine.label.model import LabelSource
from formulas.engine.label.rules import SLOW_SOURCE_TERMS
from formulas.engine.label.substances import SUBSTANCES

#: Words by which a source of an ingredient that is no nutrient is known. A term that has none of
#: them (potassium hydroxide beside humic acid) is the source of the nutrient only.
_OTHER_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "humic_acid": ("humic", "humate", "leonardite", "lignite"),
    "fulvic_acid": ("fulvic", "humic", "humate", "leonardite", "lignite"),
    "seaweed_extract": ("seaweed", "kelp", "ascophyllum"),
    "NBPT": ("nbpt", "thiophosphoric triamide"),
    "DCD": ("dcd", "dicyandiamide"),
}
_CHELATE_WORDS: Final = ("edta", "dtpa", "eddha", "hedta", "chelate", "gluconate", "citrate")


def supplied(source: LabelSource) -> dict[str, float]:
    """What a source supplies by guaranteed key, its nitrogen forms counted as ``N``."""
    found: dict[str, float] = {}
    for key, pct in source.supplies.items():
        whole = "N" if key in NITROGEN_FORMS else key
        found[whole] = found.get(whole, 0.0) + pct
    return found


def dissolved_pct(term: str, supplies: Mapping[str, float]) -> float:
    """Dissolved mass of a source, percent of the product, from the nutrients it supplies.

    By the formula of the pure substance (``SUBSTANCES``). Of a source without one (chelates,
    polyphosphate, extracts) only the nutrient mass it supplies is known, the least it can weigh.
    """
    found = supplied(LabelSource(term, supplies))
    name = " ".join(term.split()).casefold()
    substance = SUBSTANCES.get(name) or SUBSTANCES.get(name.removesuffix(" solution"))
    if substance is not None and (nutrient := found.get(substance.key, 0.0)) > 0:
        return min(100.0, nutrient / substance.pct * 100.0)
    return sum(pct for key, pct in found.items() if key in NUTRIENTS)


def derived_from(sources: Sequence[LabelSource], printed: Iterable[str]) -> tuple[str, ...]:
    """Sources of what is guaranteed, once each, in descending order of the source's own mass.

    That of the dissolved substance, not of the liquid it came in: Wis. Adm. Code ATCP
    40.10(4)(a)3 asks for the weight of the source material, Utah Code 4-13-104(1)(b)(i) for the
    order of predominance. ``share_pct`` where every source has it, else ``dissolved_pct``.
    """
    keys = set(printed)
    weighed = all(source.share_pct is not None for source in sources)
    sizes: dict[str, float] = {}
    names: dict[str, str] = {}
    for source in sources:
        useful = sum(pct for key, pct in supplied(source).items() if key in keys)
        if useful > 0:
            key = " ".join(source.name.split()).casefold()
            names.setdefault(key, " ".join(source.name.split()))
            known = source.share_pct if weighed else None
            size = dissolved_pct(source.name, source.supplies) if known is None else known
            sizes[key] = sizes.get(key, 0.0) + size
    return tuple(names[key] for key in sorted(sizes, key=lambda key: -sizes[key]))


def slow_sources(sources: Sequence[LabelSource]) -> tuple[LabelSource, ...]:
    """Recognised slow-release terms among the nitrogen sources, else those said to supply it."""
    said = [s for s in sources if any(s.supplies.get(form, 0.0) > 0 for form in SLOW_FORMS)]
    candidates = said or [s for s in sources if supplied(s).get("N", 0.0) > 0]
    recognised = [
        s for s in candidates if any(term in s.name.casefold() for term in SLOW_SOURCE_TERMS)
    ]
    return tuple(recognised or said)


def slow_source_names(sources: Sequence[LabelSource]) -> tuple[str, ...]:
    """The names of the slow-release sources as the statement lists them."""
    return derived_from(slow_sources(sources), {"N"})


def other_sources(key: str, sources: Sequence[LabelSource]) -> tuple[str, ...]:
    """Sources of an ingredient that is no plant nutrient."""
    fitting = [
        source
        for source in sources
        if any(word in source.name.casefold() for word in _OTHER_WORDS[key])
    ]
    return derived_from(fitting, {key})


def only_chelated(key: str, sources: Sequence[LabelSource]) -> bool:
    """Whether every named source of a metal is a chelate or an organic complex."""
    names = [s.name.casefold() for s in sources if s.supplies.get(key, 0.0) > 0]
    return bool(names) and all(any(word in name for word in _CHELATE_WORDS) for name in names)
