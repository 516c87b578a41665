"""Reading the metals limits: ppm by guarantee, and Washington's yearly loads."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from formulas.engine.label.metals import METALS, MetalRule, YearlyRule
from formulas.engine.mark import Mark
from formulas.reference.citation import cited
from formulas.reference.reading import ReferenceDataError, Row, load, rows

UNIFORM: Final = "uniform"
_FILE: Final = "metals.toml"
_HERE: Final = Path(__file__).parent
_MOST_PPM: Final = 100_000.0


@cache
def metal_rules(directory: Path = _HERE) -> Mapping[str, MetalRule]:
    """Every rule by its code."""
    found: dict[str, MetalRule] = {}
    for row in rows(directory / _FILE, "rule", "code"):
        rule = _rule(row)
        if rule.code in found:
            raise row.error("code", f"stands twice: {rule.code!r}")
        found[rule.code] = rule
    return MappingProxyType(found)


@cache
def yearly_metal_rule(directory: Path = _HERE) -> YearlyRule:
    """Washington's largest yearly additions."""
    table = load(directory / _FILE).get("washington")
    if not isinstance(table, dict):
        raise ReferenceDataError(f"{_FILE}: holds no [washington]")
    row = Row(_FILE, "washington", dict(table))
    source = cited(row)
    rule = YearlyRule(
        lb_per_acre=_by_metal(row.table("lb_per_acre_year"), 1000.0),
        exempt=_exempt(row),
        source=source.text,
        note=source.note,
    )
    row.done()
    return rule


def _rule(row: Row) -> MetalRule:
    source, exempt = cited(row), _exempt(row)
    per_micronutrients = row.optional_table("per_pct_micronutrients")
    rule = MetalRule(
        code=row.text("code"),
        name=row.text("name"),
        per_pct_p2o5=_by_metal(row.table("per_pct_p2o5"), _MOST_PPM),
        per_pct_micronutrients=(
            _by_metal(per_micronutrients, _MOST_PPM) if per_micronutrients else {}
        ),
        p2o5_at_least=row.number("p2o5_at_least", 0.0, 100.0),
        micronutrients_at_least=row.number("micronutrients_at_least", 0.0, 100.0),
        source=source.text,
        p2o5_applies_from=row.optional_number("p2o5_applies_from", 0.0, 100.0) or 0.0,
        exempt=exempt,
        exempt_verified=not exempt or row.mark("exempt_mark") is Mark.VERIFIED,
        exempt_note=row.optional_text("exempt_note"),
        note=source.note,
    )
    row.done()
    return rule


def _by_metal(row: Row, most: float) -> Mapping[str, float]:
    figures = {}
    for metal in list(row.values):
        if metal not in METALS:
            raise row.error(metal, "is not a screened metal")
        figures[metal] = row.number(metal, 0.0, most)
    return MappingProxyType(figures)


def _exempt(row: Row) -> frozenset[str]:
    metals = row.texts("exempt_when_guaranteed")
    if unknown := set(metals) - set(METALS):
        raise row.error("exempt_when_guaranteed", f"names {', '.join(sorted(unknown))}")
    return frozenset(metals)
