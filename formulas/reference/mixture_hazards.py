"""Reading the cut-offs of mixtures: hazard classes and the ingredients that have them."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.law.mixture_hazards import HazardClass, HazardousPart, MixtureTable
from formulas.engine.mark import Mark
from formulas.reference.citation import cited
from formulas.reference.facts import Source
from formulas.reference.reading import Row, rows
from formulas.reference.tables import traits

_FILE: Final = "mixture_hazards.toml"
_HERE: Final = Path(__file__).parent
_SIGNALS: Final = ("Danger", "Warning")


@cache
def mixture_table(directory: Path = _HERE) -> MixtureTable:
    """Classes and ingredients in file order; raises ``ReferenceDataError``."""
    classes: dict[str, HazardClass] = {}
    for row in rows(directory / _FILE, "class", "code"):
        found = _class(row)
        if found.code in classes:
            raise row.error("code", f"stands twice: {found.code!r}")
        classes[found.code] = found
    known = {trait.code for trait in traits(directory)}
    parts = []
    for row in rows(directory / _FILE, "part", "name"):
        part = _part(row)
        if unknown := set(part.classes) - set(classes):
            raise row.error("classes", f"names {', '.join(sorted(unknown))}")
        if strange := part.traits - known:
            raise row.error("traits", f"names {', '.join(sorted(strange))}")
        parts.append(part)
    return MixtureTable(tuple(classes.values()), tuple(parts))


def _class(row: Row) -> HazardClass:
    source = cited(row)
    found = HazardClass(
        code=row.text("code"),
        signal=row.text("signal"),
        words=row.text("words"),
        cut_off_pct=row.number("cut_off_pct", 0.001, 100.0),
        adds_up=row.flag("adds_up"),
        source=_in_words(source),
    )
    if found.signal not in _SIGNALS:
        raise row.error("signal", f"is none of {', '.join(_SIGNALS)}")
    row.done()
    return found


def _part(row: Row) -> HazardousPart:
    source = cited(row)
    most_pct = row.optional_number("most_pct", 0.001, 100.0)
    part = HazardousPart(
        name=row.text("name"),
        classes=row.texts("classes"),
        traits=frozenset(row.texts("traits")),
        source=_in_words(source),
        key=row.optional_text("key"),
        times=row.optional_number("times", 0.01, 100.0) or 1.0,
        most_pct=most_pct,
        supposed=row.optional_text("supposed"),
    )
    if (part.key in ANALYSIS_KEYS) == (most_pct is not None):
        raise row.error("key", "and most_pct: exactly one, and of an analysis")
    if bool(part.supposed) != (most_pct is not None):
        raise row.error("supposed", "belongs to most_pct")
    row.done()
    return part


def _in_words(source: Source) -> str:
    return source.text if source.mark is Mark.VERIFIED else f"{source.text} ({source.mark})"
