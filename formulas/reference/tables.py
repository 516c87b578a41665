"""The fact tables. Each function reads its file once; ``directory`` serves the tests."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from formulas.engine.composition import ANALYSIS_KEYS, NUTRIENTS, OTHER_INGREDIENTS, content_pct
from formulas.engine.problem import Effect
from formulas.reference.facts import (
    BaseStockFacts,
    CompatibilityFacts,
    CostUnit,
    DemoCost,
    InspectionFee,
    JarTest,
    JarTestStep,
    Solute,
    Source,
    TraitFacts,
)
from formulas.reference.reading import ReferenceDataError, Row, load, rows

#: Publications by their key in sources.toml.
Publications = Mapping[str, str]

_HERE = Path(__file__).parent
_SHARED = ("charging_rank", "min_pct", "max_pct", "scale_step_lb", "ppe")
#: Liquids from light solvents to the densest salt solutions of the trade, lb per gal.
_DENSITY_RANGE = (6.5, 16.0)


@cache
def _publications(directory: Path) -> Publications:
    table = load(directory / "sources.toml").get("sources", {})
    for key, text in table.items():
        if not isinstance(text, str) or not text.strip():
            raise ReferenceDataError(f"sources.toml: {key} is empty")
    return MappingProxyType(table)


def _unique(file: str, keys: Iterable[object]) -> None:
    seen: set[object] = set()
    for key in keys:
        if key in seen:
            raise ReferenceDataError(f"{file}: {key} stands twice")
        seen.add(key)


@cache
def traits(directory: Path = _HERE) -> tuple[TraitFacts, ...]:
    """All traits, in file order."""
    found = []
    for row in rows(directory / "traits.toml", "trait", "code"):
        found.append(TraitFacts(row.text("code"), row.text("name"), row.text("description")))
        row.done()
    _unique("traits.toml", (t.code for t in found))
    return tuple(found)


def _known_trait(row: Row, key: str, code: str, directory: Path) -> str:
    if code not in {t.code for t in traits(directory)}:
        raise row.error(key, f"is not a known trait: {code!r}")
    return code


def _analysis(
    row: Row, publications: Publications, sources: dict[str, Source]
) -> Mapping[str, float]:
    values: dict[str, float] = {}
    table = row.optional_table("analysis")
    if table is None:
        return MappingProxyType(values)
    for key in list(table.values):
        if key not in ANALYSIS_KEYS:
            raise table.error(key, "is not a key of an analysis")
        figure = table.table(key)
        values[key] = figure.number("value", 0.0, 100.0)
        sources[f"analysis.{key}"] = figure.source(publications)
        figure.done()
    nutrients = sum(content_pct(values, key) for key in NUTRIENTS)
    others = sum(content_pct(values, key) for key in OTHER_INGREDIENTS)
    if max(nutrients, others) > 100.0:
        raise row.error("analysis", f"adds up to {max(nutrients, others):g} %")
    return MappingProxyType(values)


def _optional_figures(
    row: Row, publications: Publications, sources: dict[str, Source]
) -> dict[str, Any]:
    """Figures that nobody may have published: absent ones stay None."""
    found: dict[str, Any] = {
        "ph_low": None,
        "ph_high": None,
        "salt_out_f": None,
        "salt_index_per_unit": None,
        "salt_index_per": (),
    }
    if ph := row.optional_table("ph"):
        found["ph_low"] = ph.number("low", 0.0, 14.0)
        found["ph_high"] = ph.number("high", found["ph_low"], 14.0)
        sources["ph"] = ph.source(publications)
        ph.done()
    if salt_out := row.optional_table("salt_out_f"):
        found["salt_out_f"] = salt_out.number("value", -80.0, 120.0)
        sources["salt_out_f"] = salt_out.source(publications)
        salt_out.done()
    if salt_index := row.optional_table("salt_index_per_unit"):
        found["salt_index_per_unit"] = salt_index.number("value", 0.0, 20.0)
        found["salt_index_per"] = salt_index.texts("per")
        if not found["salt_index_per"] or not set(found["salt_index_per"]) <= set(NUTRIENTS):
            raise salt_index.error("per", "must name nutrients")
        sources["salt_index_per_unit"] = salt_index.source(publications)
        salt_index.done()
    return found


def _made_of(row: Row, publications: Publications) -> tuple[Solute, ...]:
    solutes = []
    for solute in row.tables("made_of"):
        formula, pct = solute.text("formula"), solute.number("pct", 0.0, 100.0)
        solutes.append(Solute(formula, pct, solute.source(publications)))
        solute.done()
    if sum(solute.pct for solute in solutes) > 100.0:
        raise row.error("made_of", "adds up to more than 100 %")
    return tuple(solutes)


def _hazards(row: Row, publications: Publications, sources: dict[str, Source]) -> str:
    hazards = row.table("hazards")
    text = hazards.text("text")
    if not text.endswith("SDS governs."):
        raise hazards.error("text", "must end by deferring to the SDS")
    sources["hazards"] = hazards.source(publications)
    hazards.done()
    return text


def _other_origin(
    row: Row,
    analysis: Mapping[str, float],
    publications: Publications,
    sources: dict[str, Source],
) -> str:
    """Stated where, and only where, something stands in the analysis that is no nutrient."""
    origin = row.optional_table("other_origin")
    if (origin is not None) != any(key in analysis for key in OTHER_INGREDIENTS):
        raise row.error("other_origin", "belongs to ingredients that are no plant nutrient")
    if origin is None:
        return ""
    value = origin.text("value")
    sources["other_origin"] = origin.source(publications)
    origin.done()
    return value


def _stock(row: Row, shared: Mapping[str, Source], directory: Path) -> BaseStockFacts:
    publications = _publications(directory)
    sources = dict(shared)
    density = row.table("density_lb_per_gal")
    sources["density_lb_per_gal"] = density.source(publications)
    traits_named = row.texts("traits")
    analysis = _analysis(row, publications, sources)
    facts = BaseStockFacts(
        code=row.text("code"),
        name=row.text("name"),
        derived_from=row.texts("derived_from"),
        other_origin=_other_origin(row, analysis, publications, sources),
        traits=frozenset(_known_trait(row, "traits", t, directory) for t in traits_named),
        analysis=analysis,
        density_lb_per_gal=density.number("value", *_DENSITY_RANGE),
        density_at_f=density.number("at_f", 32.0, 120.0),
        salt_out_note=row.text("salt_out_note"),
        hazards=_hazards(row, publications, sources),
        ppe=row.text("ppe"),
        charging_rank=int(row.number("charging_rank", 1, 1000)),
        min_pct=row.number("min_pct", 0.0, 100.0),
        max_pct=row.number("max_pct", 0.0, 100.0),
        scale_step_lb=row.number("scale_step_lb", 0.001, 1000.0),
        made_of=_made_of(row, publications),
        note=row.optional_text("note"),
        **_optional_figures(row, publications, sources),
        figure_sources=MappingProxyType(sources),
    )
    if facts.min_pct > facts.max_pct:
        raise row.error("min_pct", "is above max_pct")
    density.done()
    row.done()
    return facts


@cache
def base_stocks(directory: Path = _HERE) -> tuple[BaseStockFacts, ...]:
    """Typical base stocks, in file order; raises ``ReferenceDataError``."""
    path = directory / "base_stocks.toml"
    shared_row = Row(path.name, "shared", dict(load(path).get("shared", {})))
    shared: dict[str, Source] = {}
    for key in _SHARED:
        entry = shared_row.table(key)
        shared[key] = entry.source(_publications(directory))
        entry.done()
    shared_row.done()
    found = tuple(_stock(row, shared, directory) for row in rows(path, "stock", "code"))
    _unique(path.name, (stock.code for stock in found))
    return found


@cache
def compatibility_rules(directory: Path = _HERE) -> tuple[CompatibilityFacts, ...]:
    """Rules between traits, in file order; raises ``ReferenceDataError``."""
    found = []
    for row in rows(directory / "compatibility.toml", "rule", "trait_a"):
        trait_a, trait_b = row.text("trait_a"), row.text("trait_b")
        rule = CompatibilityFacts(
            trait_a=_known_trait(row, "trait_a", trait_a, directory),
            trait_b=_known_trait(row, "trait_b", trait_b, directory),
            effect=row.choice("effect", Effect),
            reason=row.text("reason"),
            source=row.source(_publications(directory)),
            largest_pct=row.optional_number("largest_pct", 0.0, 100.0),
            largest_ratio=row.optional_number("largest_ratio", 0.0, 1000.0),
        )
        limits = [v for v in (rule.largest_pct, rule.largest_ratio) if v is not None]
        if len(limits) != (1 if rule.effect is Effect.LIMIT else 0):
            raise row.error("effect", "limit, and only limit, has one largest value")
        row.done()
        found.append(rule)
    _unique("compatibility.toml", (frozenset((r.trait_a, r.trait_b)) for r in found))
    return tuple(found)


@cache
def jar_test(directory: Path = _HERE) -> JarTest:
    """The jar test procedure."""
    path = directory / "jar_test.toml"
    publications = _publications(directory)
    head = Row(path.name, "head", {k: v for k, v in load(path).items() if k != "step"})
    caution = head.table("caution")
    steps = []
    for row in rows(path, "step", "text"):
        wait_hours = row.optional_number("wait_hours", 0.0, 1000.0) or 0.0
        steps.append(JarTestStep(row.text("text"), wait_hours, row.source(publications)))
        row.done()
    test = JarTest(
        head.text("title"), caution.text("text"), caution.source(publications), tuple(steps)
    )
    caution.done()
    head.done()
    return test


@cache
def inspection_fees(directory: Path = _HERE) -> tuple[InspectionFee, ...]:
    """State fees per ton, in file order."""
    path = directory / "inspection_fees.toml"
    found = []
    for row in rows(path, "fee", "state"):
        minimum = row.money("minimum") if "minimum" in row.values else None
        citation = row.text("citation")
        row.values["source"] = [citation]
        found.append(
            InspectionFee(
                row.text("state"),
                row.money("fee_per_ton"),
                minimum,
                row.source({citation: citation}),
            )
        )
        row.done()
    _unique(path.name, (fee.state for fee in found))
    return tuple(found)


@cache
def demo_costs(directory: Path = _HERE) -> tuple[DemoCost, ...]:
    """Invented costs of the demo plant, one a stock."""
    path = directory / "demo_costs.toml"
    head = Row(path.name, "head", {k: v for k, v in load(path).items() if k != "cost"})
    source = head.source(_publications(directory))
    head.done()
    codes = {stock.code for stock in base_stocks(directory)}
    found = []
    for row in rows(path, "cost", "stock"):
        cost = DemoCost(row.text("stock"), row.money("cost"), row.choice("per", CostUnit), source)
        if cost.stock not in codes:
            raise row.error("stock", f"is not a base stock: {cost.stock!r}")
        row.done()
        found.append(cost)
    _unique(path.name, (cost.stock for cost in found))
    return tuple(found)
