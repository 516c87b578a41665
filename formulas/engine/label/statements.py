"""Sentences beside the guarantees: what is printed, and what a reviewer must look at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from formulas.engine.composition import SLOW_FORMS
from formulas.engine.label.model import (
    Guarantee,
    LabelBasis,
    LabelSource,
    OtherIngredient,
    Statement,
)
from formulas.engine.label.nitrogen_lines import NitrogenLines
from formulas.engine.label.origins import only_chelated, slow_source_names, slow_sources, supplied
from formulas.engine.label.printed_figures import ONE_PERCENT, digits, text
from formulas.engine.label.rules import (
    EACH_SLOW_SOURCE,
    LABELS,
    PARTICULARS,
    SLOW_SHARE_PCT,
    WARNINGS,
    WATER_SOLUBLE_SLOW_SOURCE,
)
from formulas.engine.mark import Mark
from formulas.engine.result import Finding, Severity

#: What an inhibitor does; roles read, the defined term "stabilized nitrogen" from memory.
_INHIBITORS: Final[Mapping[str, str]] = {
    "NBPT": "a urease inhibitor",
    "DCD": "a nitrification inhibitor",
}
_INHIBITOR_SOURCE: Final = (
    "Roles: University of Kentucky, PSS notes on NBPT and DCD; the term stabilized nitrogen: "
    f"{Mark.FROM_MEMORY}"
)
_METALS_WORDS: Final = "Information regarding the contents and levels of"
_METALS_PAGE: Final = "www.aapfco.org/metals.html"
_METALS_SOURCE: Final = "California Department of Food and Agriculture, labelling aid, August 2019"
_INORGANIC_METALS: Final = ("Fe", "Mn", "Zn")


def slow_release(lines: NitrogenLines, sources: Sequence[LabelSource]) -> str:
    """The footnote of a slow-release claim, percent of the product."""
    names = ", ".join(slow_source_names(sources))
    return f"{text(digits(lines.claim))}% slowly available nitrogen from {names}"


def stabilized_nitrogen(others: Sequence[OtherIngredient], *, has_n: bool) -> Statement | None:
    """Named where an inhibitor is guaranteed beside nitrogen."""
    named = [f"{o.label}, {_INHIBITORS[o.key]}" for o in others if o.key in _INHIBITORS]
    if not named or not has_n:
        return None
    return Statement(f"Stabilized nitrogen: contains {' and '.join(named)}.", _INHIBITOR_SOURCE)


def metals_information(
    guarantees: Sequence[Guarantee], sources: Sequence[LabelSource], contact: str | None
) -> Statement | None:
    """California's statement: phosphate, or Fe, Mn, Zn from an inorganic source, guaranteed.

    A metal whose source is not named counts as inorganic. ``contact`` is the guarantor's own
    page or telephone number instead of the association's page.
    """
    keys = {line.key for line in guarantees}
    metals = [k for k in _INORGANIC_METALS if k in keys and not only_chelated(k, sources)]
    if "P2O5" not in keys and not metals:
        return None
    where = contact or _METALS_PAGE
    if any(letter.isalpha() for letter in where):
        said = f"{_METALS_WORDS} metals in this product is available on the internet at {where}"
    else:
        said = f"{_METALS_WORDS} heavy metals in this product is available by calling {where}"
    return Statement(said, _METALS_SOURCE)


def cautions(
    guarantees: Sequence[Guarantee], others: Sequence[OtherIngredient], basis: LabelBasis
) -> Iterable[Finding]:
    """Sources that are missing, and contents that may need a warning on the label."""
    known = {key for source in basis.sources for key, pct in supplied(source).items() if pct > 0}
    for line in guarantees:
        if line.parent is None and line.key not in known:
            yield Finding(
                "source_missing",
                Severity.CAUTION,
                f"{line.label} is guaranteed, but no source of it is named.",
                "Oregon ORS 633.321(1)(g); Idaho Code 22-607(1)(f)",
            )
        for warning in WARNINGS:
            if warning.applies(line.key, line.pct):
                yield Finding("label_warning", Severity.CAUTION, warning.message, warning.source)
    for item in others:
        if not item.sources:
            yield Finding(
                "source_missing",
                Severity.CAUTION,
                f"{item.label} stands in its own block, but no source of it is named.",
                "Oregon ORS 633.321(1)(h), read in part; earlier Utah Code 4-13-104(1)(c)",
            )


def reading_notes(
    guarantees: Sequence[Guarantee], claimed: NitrogenLines | None, basis: LabelBasis
) -> Iterable[Finding]:
    """Where states read the same label differently, or a rule was not seen in its own text.

    ``claimed`` are the nitrogen lines if slow release is claimed.
    """
    if claimed is not None:
        if weak := list(_weak_components(claimed, basis.sources)):
            yield Finding(
                "slow_component_share",
                Severity.CAUTION,
                f"Utah asks {SLOW_SHARE_PCT} % of total nitrogen of each slow release component; "
                f"below it here: {', '.join(weak)}.",
                EACH_SLOW_SOURCE,
            )
        if "N.slow" in claimed.forms:
            yield Finding(
                "slow_water_soluble",
                Severity.INFO,
                "Water-soluble slow nitrogen does not count as slow release everywhere: Vermont "
                "and an older Pennsylvania rule count only nitrogen that is not water soluble.",
                WATER_SOLUBLE_SLOW_SOURCE,
            )
        yield Finding(
            "slow_wording",
            Severity.INFO,
            "The wording of the slow-release footnote follows trade usage; the exact text of the "
            "model rule was not found.",
            Mark.FROM_MEMORY,
        )
    if any(line.key.endswith(".chelated") for line in guarantees):
        yield Finding(
            "chelate_wording",
            Severity.INFO,
            "A chelated share is a guarantee of its own; some states want the chelating agent "
            "named with it.",
            f"Ga. R. 40-6-5-.01(1)(c); naming the agent: {Mark.FROM_MEMORY}",
        )
    if any(line.key == "Ni" for line in guarantees):
        yield Finding(
            "nickel",
            Severity.INFO,
            "Nickel is not in Washington's list of nutrients that may be guaranteed.",
            "WAC 16-200-711; Utah R68-3-4",
        )
    for name, heading, source in PARTICULARS:
        if getattr(basis.particulars, name) is None:
            yield Finding(
                "particular_missing",
                Severity.INFO,
                f"“{heading}” is not given; some states ask it of a custom product.",
                source,
            )


def _weak_components(nitrogen: NitrogenLines, sources: Sequence[LabelSource]) -> Iterable[str]:
    """Slow components below the share of the guaranteed total: forms, and sources by form."""
    least = SLOW_SHARE_PCT * nitrogen.total
    present = [form for form in SLOW_FORMS if nitrogen.forms.get(form)]
    if len(present) > 1:
        yield from (LABELS[f] for f in present if nitrogen.forms[f] * 100 < least)
    brought: dict[str, float] = {}
    for source in slow_sources(sources):
        amount = sum(source.supplies.get(form, 0.0) for form in SLOW_FORMS)
        brought[source.name.strip()] = brought.get(source.name.strip(), 0.0) + amount
    if len(brought) > 1:
        yield from (n for n, pct in brought.items() if 0 < pct * 100 * ONE_PERCENT < least)
