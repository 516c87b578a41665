"""Reads release_pools.toml: rates, trade expectations and demo seasons of the release outlook.

The file names its own publications, because most of them stand behind nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from formulas.engine.field.release import Pace, PoolRates, Rate, ReleaseModel, TradeExpectation
from formulas.engine.field.release_pools import PoolKind
from formulas.engine.field.release_season import SoilSeason, season_errors
from formulas.engine.mark import Mark
from formulas.engine.units import celsius
from formulas.reference.facts import Source
from formulas.reference.reading import ReferenceDataError, Row, load, rows

_HERE = Path(__file__).parent
_FILE = "release_pools.toml"
_TABLES = {"sources", "model", "pool", "trade", "season"}


@cache
def release_model(directory: Path = _HERE) -> ReleaseModel:
    """Rates and limits; every pool but what is available at once must be there."""
    path = directory / _FILE
    publications = _publications(path)
    model = Row(path.name, "model", dict(load(path).get("model", {})))
    found = ReleaseModel(
        pools=_pools(path, publications),
        microbial_cutoff_c=_figure(model, "microbial_cutoff_c", 0.0, 15.0, publications),
        cap_c=_caps(model, publications),
        usual_relative_water_content=_figure(
            model, "usual_relative_water_content", 0.0, 1.0, publications
        ),
        feeding_remaining_pct=_figure(model, "feeding_remaining_pct", 0.0, 100.0, publications),
        feeding_least_lb_per_1000sqft=_figure(
            model, "feeding_least_lb_per_1000sqft", 0.0, 1.0, publications
        ),
        trade=tuple(_trade(row, publications) for row in rows(path, "trade", "expects")),
    )
    model.done()
    return found


@cache
def demo_seasons(directory: Path = _HERE) -> Mapping[str, SoilSeason]:
    """Invented seasons by code, in file order, at the usual soil moisture."""
    path = directory / _FILE
    publications = _publications(path)
    water = release_model(directory).usual_relative_water_content
    found: dict[str, SoilSeason] = {}
    for row in rows(path, "season", "code"):
        code, name = row.text("code"), row.text("name")
        temps_f = row.values.pop("soil_temp_f", None)
        if not isinstance(temps_f, list) or not all(type(t) in (int, float) for t in temps_f):
            raise row.error("soil_temp_f", "must be a list of numbers")
        source = row.source(publications)
        if source.mark is not Mark.DEMO:
            raise row.error("mark", "must be demo: seasons here are invented")
        row.done()
        season = SoilSeason(
            name, tuple(celsius(t) for t in temps_f), water, str(source.mark), source.text
        )
        if wrong := next(season_errors(season), None):
            raise row.error("soil_temp_f", wrong.message)
        if code in found:
            raise row.error("code", f"stands twice: {code!r}")
        found[code] = season
    return MappingProxyType(found)


def _publications(path: Path) -> Mapping[str, str]:
    table = load(path)
    if unknown := set(table) - _TABLES:
        raise ReferenceDataError(f"{path.name}: {', '.join(sorted(unknown))} is not a known table")
    sources = table.get("sources", {})
    for key, text in sources.items():
        if not isinstance(text, str) or not text.strip():
            raise ReferenceDataError(f"{path.name}: source {key} is empty")
    return MappingProxyType(sources)


def _figure(
    model: Row, key: str, low: float, high: float, publications: Mapping[str, str]
) -> float:
    figure = model.table(key)
    value = figure.number("value", low, high)
    figure.source(publications)
    figure.done()
    return value


def _caps(model: Row, publications: Mapping[str, str]) -> Mapping[Pace, float]:
    figure = model.table("cap_c")
    caps = {pace: figure.number(pace.value, 20.0, 40.0) for pace in Pace}
    figure.source(publications)
    figure.done()
    return MappingProxyType(caps)


def _pools(path: Path, publications: Mapping[str, str]) -> Mapping[PoolKind, PoolRates]:
    found: dict[PoolKind, PoolRates] = {}
    for row in rows(path, "pool", "kind"):
        kind = row.choice("kind", PoolKind)
        if kind in found:
            raise row.error("kind", f"stands twice: {kind.value!r}")
        name, is_microbial = row.text("name"), row.values.pop("microbial", None)
        if not isinstance(is_microbial, bool):
            raise row.error("microbial", "must be true or false")
        rates = {pace: _rate(row.table(pace.value), publications) for pace in Pace}
        row.done()
        by_pace = [rates[pace].k25_per_day for pace in (Pace.SLOW, Pace.USUAL, Pace.FAST)]
        if by_pace != sorted(by_pace):
            raise row.error("k25_per_day", f"must rise from slow to fast: {by_pace}")
        found[kind] = PoolRates(kind, name, is_microbial, MappingProxyType(rates))
    if missing := set(PoolKind) - set(found) - {PoolKind.AT_ONCE}:
        names = ", ".join(sorted(kind.value for kind in missing))
        raise ReferenceDataError(f"{path.name}: holds no pool {names}")
    return MappingProxyType(found)


def _rate(row: Row, publications: Mapping[str, str]) -> Rate:
    k25, q10 = row.number("k25_per_day", 1e-6, 5.0), row.number("q10", 1.0, 4.0)
    source = row.source(publications)
    row.done()
    return Rate(k25, q10, source.mark, _cited(source))


def _trade(row: Row, publications: Mapping[str, str]) -> TradeExpectation:
    kinds = row.texts("concerns")
    if not kinds or not set(kinds) <= set(PoolKind):
        raise row.error("concerns", f"must name pools: {kinds}")
    studies = row.table("studies")
    studies_source = studies.source(publications)
    days_high = row.number("days_high", 1.0, 365.0)
    found = TradeExpectation(
        concerns=frozenset(PoolKind(kind) for kind in kinds),
        expects=row.text("expects"),
        days_low=row.optional_number("days_low", 1.0, days_high),
        days_high=days_high,
        mark=row.source(publications).mark,
        studies_found=studies.text("found"),
        studies_source=studies_source.text,
    )
    if found.mark is not Mark.COMMON_PRACTICE:
        raise row.error(
            "mark", f"must be {Mark.COMMON_PRACTICE.value!r}: this is what the trade says"
        )
    studies.done()
    row.done()
    return found


def _cited(source: Source) -> str:
    return f"{source.text}. {source.note}" if source.note else source.text
