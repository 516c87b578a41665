"""From a recipe to the source terms of a label: who supplies what.

A stock with one source term supplies all it holds through that term. With several terms a term
that names a metal supplies only that metal, a slow-release term the slow nitrogen, urea the urea
nitrogen, and the rest is shared equally: enough to name and order the sources, no assay of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from formulas.engine.composition import SLOW_FORMS
from formulas.engine.label.model import LabelSource
from formulas.engine.label.origins import dissolved_pct
from formulas.engine.label.rules import CHELATED, SLOW_SOURCE_TERMS
from formulas.engine.problem import Stock
from formulas.engine.result import Share

_METAL_WORDS: Final[Mapping[str, str]] = {
    "iron": "Fe",
    "ferrous": "Fe",
    "ferric": "Fe",
    "manganese": "Mn",
    "zinc": "Zn",
    "copper": "Cu",
}


def label_sources(
    shares: Iterable[Share], stocks: Mapping[str, Stock], derived_from: Mapping[str, Iterable[str]]
) -> tuple[LabelSource, ...]:
    """Sources of a recipe in its own order; ``derived_from`` names the terms of each stock code.

    Stocks without a term, such as water, supply nothing. The share of a source is its dissolved
    mass: the water of a stock is no source.
    """
    sources = []
    for share in shares:
        terms = tuple(derived_from.get(share.code, ()))
        analysis = stocks[share.code].analysis
        claims = {term: _claimed(term, terms, analysis) for term in terms}
        for term in terms:
            supplies = {
                key: share.pct / 100.0 * analysis[key] / sum(key in claims[t] for t in terms)
                for key in claims[term]
            }
            sources.append(LabelSource(term, supplies, dissolved_pct(term, supplies)))
    return tuple(sources)


def chelated_parts(shares: Iterable[Share], stocks: Mapping[str, Stock]) -> dict[str, float]:
    """Percent of the product that its chelate stocks bring, by metal.

    A stock of the trait ``chelate`` holds all of its metals as chelates, unless it also has the
    trait ``unchelated_metal``: then which is which is not known, and nothing is counted.
    """
    parts: dict[str, float] = {}
    for share in shares:
        stock = stocks[share.code]
        if "chelate" not in stock.traits or "unchelated_metal" in stock.traits:
            continue
        for key in CHELATED:
            if (pct := share.pct / 100.0 * stock.analysis.get(key, 0.0)) > 0:
                parts[key] = parts.get(key, 0.0) + pct
    return parts


def _claimed(term: str, terms: tuple[str, ...], analysis: Mapping[str, float]) -> tuple[str, ...]:
    """Keys of the analysis that come through one of several terms."""
    present = tuple(key for key, pct in analysis.items() if pct > 0)
    if len(terms) == 1:
        return present
    word = term.split()[0].casefold()
    if word in _METAL_WORDS:
        return tuple(key for key in present if key == _METAL_WORDS[word])
    if any(slow in term.casefold() for slow in SLOW_SOURCE_TERMS):
        return tuple(key for key in present if key in SLOW_FORMS)
    if word == "urea":
        return tuple(key for key in present if key == "N.urea")
    named_urea = any(other.split()[0].casefold() == "urea" for other in terms)
    taken = {*SLOW_FORMS, *(("N.urea",) if named_urea else ())}
    return tuple(key for key in present if key not in taken)
