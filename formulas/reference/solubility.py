"""Reading the solubility table of the cold-storage screen, and the free water of the stocks."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from formulas.engine.mark import Mark
from formulas.engine.storage.cold_storage import IONS, SaltSolubility, SolubilityPoint
from formulas.reference.reading import ReferenceDataError, Row, load, rows
from formulas.reference.tables import base_stocks

_FILE: Final = "solubility.toml"
_HERE: Final = Path(__file__).parent


@cache
def salts(directory: Path = _HERE) -> tuple[SaltSolubility, ...]:
    """The screened salts in file order; raises ``ReferenceDataError``."""
    publications = _publications(directory)
    found: list[SaltSolubility] = []
    for row in rows(directory / _FILE, "salt", "code"):
        salt = _salt(row, publications)
        if salt.code in {other.code for other in found}:
            raise row.error("code", f"stands twice: {salt.code!r}")
        found.append(salt)
    return tuple(found)


@cache
def water_pct(directory: Path = _HERE) -> Mapping[str, float]:
    """Free water of base stocks by code, percent by weight; a stock not in it has no figure."""
    publications = _publications(directory)
    table = load(directory / _FILE).get("not_water")
    if not isinstance(table, dict):
        raise ReferenceDataError(f"{_FILE}: holds no [not_water]")
    other = Row(_FILE, "not_water", dict(table))
    other.source(publications)
    not_water = set(other.texts("codes"))
    other.done()
    found = {
        stock.code: 100.0 - sum(solute.pct for solute in stock.made_of)
        for stock in base_stocks(directory)
        if stock.made_of and stock.code not in not_water
    }
    known = {stock.code for stock in base_stocks(directory)}
    for row in rows(directory / _FILE, "water", "code"):
        code = row.text("code")
        if code not in known:
            raise row.error("code", f"is not a base stock: {code!r}")
        if code in found:
            raise row.error("code", f"stands twice or follows from made_of: {code!r}")
        found[code] = row.number("pct", 0.0, 100.0)
        row.source(publications)
        row.done()
    return MappingProxyType(found)


def _publications(directory: Path) -> Mapping[str, str]:
    table: dict[str, Any] = load(directory / "sources.toml").get("sources", {})
    return table


def _salt(row: Row, publications: Mapping[str, str]) -> SaltSolubility:
    mass = row.table("molar_mass_g")
    beside = row.texts("not_judged_beside") if "not_judged_beside" in row.values else ()
    salt = SaltSolubility(
        code=row.text("code"),
        name=row.text("name"),
        molar_mass_g=mass.number("value", 10.0, 1000.0),
        ions=_ions(row.table("ions")),
        points=_points(row, publications),
        not_judged_beside=beside,
        not_judged_reason=row.text("not_judged_reason") if beside else "",
    )
    if unknown := set(beside) - set(IONS):
        raise row.error("not_judged_beside", f"names {', '.join(sorted(unknown))}")
    mass.source(publications)
    mass.done()
    row.done()
    return salt


def _ions(row: Row) -> Mapping[str, int]:
    found = {}
    for ion in list(row.values):
        if ion not in IONS:
            raise row.error(ion, "is not a screened ion")
        count = row.number(ion, 1, 6)
        if count != int(count):
            raise row.error(ion, f"is not a whole number: {count}")
        found[ion] = int(count)
    if not found:
        raise row.error("ions", "is empty")
    return MappingProxyType(found)


def _points(row: Row, publications: Mapping[str, str]) -> tuple[SolubilityPoint, ...]:
    found = []
    for point in row.tables("points"):
        source = point.source(publications)
        words = f"{source.text}: {source.note}" if source.note else source.text
        found.append(
            SolubilityPoint(
                temperature_c=point.number("c", -50.0, 120.0),
                g_per_100g=point.number("g_per_100g", 0.001, 2000.0),
                source=words,
                verified=source.mark is Mark.VERIFIED,
            )
        )
        point.done()
    if len(found) < 2:
        raise row.error("points", "must hold at least two points")
    if any(
        low.temperature_c >= high.temperature_c or low.g_per_100g >= high.g_per_100g
        for low, high in pairwise(found)
    ):
        raise row.error("points", "must rise in temperature and in solubility")
    return tuple(found)
