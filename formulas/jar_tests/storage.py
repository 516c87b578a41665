"""A recipe in storage: whether jars have been tested like it, and a screen for cold.

Jars decide; the screen only says where to look. Published salt-out points and free water are
used for a stock only while its analysis in the catalogue is the published one: a stock that was
edited is another product, and nobody published its figures.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final
from urllib.parse import urlencode

from django.utils.translation import gettext

from blendshop.figures.readers import reader
from formulas import reference
from formulas.engine.mark import Mark
from formulas.engine.result import Share
from formulas.engine.storage.cold_storage import ColdScreen, ColdStock, ColdVerdict, screen
from formulas.engine.storage.jar_distance import RADIUS_SOURCE, JarVerdict, NearJar, jar_verdict
from formulas.engine_bridge import cited, to_engine
from formulas.models import BaseStock, JarTest
from formulas.reference.solubility import salts, water_pct

#: What is asked when nobody says otherwise: a season's storage down to freezing (common
#: practice, no source).
USUAL_DAYS: Final = 30.0
USUAL_STORAGE_F: Final = 32.0
_MOST_DIFFERENCES: Final = 4


@dataclass(frozen=True, slots=True)
class NearRow:
    """A registered jar beside the recipe, in words."""

    jar_test: JarTest
    distance_pct: float
    differences: tuple[str, ...]
    falls_short: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ColdRow:
    """One stock or one salt of the screen. ``note`` is what the catalogue says, if anything."""

    name: str
    verdict: str
    words: str
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class StorageCheck:
    """Everything a page says about a recipe kept ``days`` down to ``storage_f``."""

    days: float
    storage_f: float
    jars: JarVerdict
    nearest: tuple[NearRow, ...]
    cold: ColdScreen
    stocks: tuple[ColdRow, ...]
    salts: tuple[ColdRow, ...]
    register_query: str

    @property
    def asks_for_a_jar(self) -> bool:
        return not self.jars.is_tested

    @property
    def radius_source(self) -> str:
        return RADIUS_SOURCE


def storage_check(
    recipe: Mapping[str, float],
    *,
    days: float = USUAL_DAYS,
    storage_f: float = USUAL_STORAGE_F,
) -> StorageCheck:
    """Check a recipe (percent by weight by code of a catalogue stock) against jars and cold.

    Raises ``BadProblem`` for days or a temperature that are no such thing.
    """
    (check,) = storage_checks([recipe], days=days, storage_f=storage_f)
    return check


def storage_checks(
    recipes: Sequence[Mapping[str, float]],
    *,
    days: float = USUAL_DAYS,
    storage_f: float = USUAL_STORAGE_F,
) -> tuple[StorageCheck, ...]:
    """``storage_check`` of many; stocks and jars are read once."""
    codes = {code for recipe in recipes for code in recipe}
    rows = {row.code: row for row in BaseStock.objects.filter(code__in=codes).for_engine()}
    tests = {test.code: test for test in JarTest.objects.that_count()}
    return tuple(_check(recipe, rows, tests, days, storage_f) for recipe in recipes)


def _check(
    recipe: Mapping[str, float],
    rows: Mapping[str, BaseStock],
    tests: Mapping[str, JarTest],
    days: float,
    storage_f: float,
) -> StorageCheck:
    total = sum(recipe.values())
    # A recipe printed with six decimals adds up to 100 only nearly.
    shares = {code: 100.0 * pct / total for code, pct in recipe.items() if pct > 0}
    jars = jar_verdict(
        shares,
        [test.registered() for test in tests.values()],
        days=days,
        temperature_f=storage_f,
    )
    cold_stocks = [_cold_stock(rows[code]) for code in shares]
    cold = screen(
        [Share(code, pct) for code, pct in shares.items()], cold_stocks, salts(), storage_f
    )
    return StorageCheck(
        days=days,
        storage_f=storage_f,
        jars=jars,
        nearest=tuple(_near_row(near, tests[near.jar.code]) for near in jars.nearest),
        cold=cold,
        stocks=tuple(_stock_rows(cold, rows)),
        salts=tuple(_salt_rows(cold)),
        register_query=register_query(shares),
    )


def register_query(shares: Mapping[str, float]) -> str:
    """The query with which the registration of a jar test begins at this recipe."""
    text = ",".join(f"{code}:{pct:.4f}" for code, pct in shares.items() if pct > 0)
    return urlencode({"recipe": text})


def recipe_from_query(text: str) -> dict[str, float]:
    """What ``register_query`` wrote; whatever cannot be read is left aside."""
    found = {}
    for part in text.split(","):
        code, _, pct = part.rpartition(":")
        if code and pct.replace(".", "", 1).isdecimal() and float(pct) <= 100:
            found[code] = float(pct)
    return found


def _cold_stock(row: BaseStock) -> ColdStock:
    facts = next((facts for facts in reference.base_stocks() if facts.code == row.code), None)
    stock = to_engine(row, Decimal(0))
    if facts is None or dict(facts.analysis) != dict(stock.analysis):
        return ColdStock(stock, None, None)
    source = facts.figure_sources.get("salt_out_f")
    told = cited(source.text, source.mark) if source else ""
    if source and source.note:
        told = f"{told}. {source.note}"
    return ColdStock(stock, water_pct().get(row.code), facts.salt_out_f, told)


def _near_row(near: NearJar, test: JarTest) -> NearRow:
    return NearRow(
        jar_test=test,
        distance_pct=near.distance_pct,
        differences=tuple(_difference_words(near.difference_pct)),
        falls_short=tuple(_shortfalls(near)),
    )


def _difference_words(difference_pct: Mapping[str, float]) -> Iterator[str]:
    """The largest differences, recipe against jar."""
    for code, pct in list(difference_pct.items())[:_MOST_DIFFERENCES]:
        if abs(pct) >= 0.05:
            words = gettext("{points} points more {stock}")
            if pct < 0:
                words = gettext("{points} points less {stock}")
            yield words.format(points=reader().number(abs(pct), 1), stock=code)


def _shortfalls(near: NearJar) -> Iterator[str]:
    if near.untested:
        yield gettext("held no {stocks}").format(stocks=", ".join(near.untested))
    if near.short_days:
        yield gettext("stood {days} days too short").format(
            days=reader().significant(near.short_days)
        )
    if near.too_warm_f:
        yield gettext("was kept {degrees} °F too warm").format(
            degrees=reader().significant(near.too_warm_f)
        )


def _stock_rows(cold: ColdScreen, rows: Mapping[str, BaseStock]) -> Iterator[ColdRow]:
    for found in cold.neat:
        row = rows[found.code]
        yield ColdRow(
            name=row.name,
            verdict=found.verdict,
            words=found.words,
            source=found.source,
            note=row.salt_out_note,
        )


def _salt_rows(cold: ColdScreen) -> Sequence[ColdRow]:
    """Salts that have something to say: not those whose ions the batch does not hold."""
    return [
        ColdRow(
            name=found.name,
            verdict=found.verdict,
            words=found.words,
            source=cited(
                found.source, Mark.VERIFIED if found.verified else gettext("partly unverified")
            ),
        )
        for found in cold.salts
        if found.verdict is not ColdVerdict.CLEAR or found.most_saturation_pct
    ]
