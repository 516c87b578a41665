"""A screen for cold storage: what might crystallise at the temperature promised to a customer.

Two looks, neither of which settles anything. Each stock's own salt-out point, as published for
the neat stock. And for single salts the ion product against saturation, with all the free water
of the batch shared by all: for a salt of ions i, ``v_i`` of each, molalities ``m_i`` (mol per kg
of water) and the salt's own saturation ``m_s`` at that temperature::

    share of saturation = ( prod m_i^v_i / prod (v_i m_s)^v_i ) ^ (1 / sum v_i)

Ions are taken as ideal and as wholly there, whatever they came with, so the figure errs on the
side of crystals. Between tabled temperatures the logarithm of the solubility is interpolated,
which lies below the straight line. Salts that form only with others' help (double salts, ammonium
phosphates, chelates) are not looked at. Multi-salt solutions have no reliable formula: only a
jar kept at that temperature can settle it.

By hand: a 0-0-15 potassium chloride solution is 23.74 % KCl and 76.26 % water, 31.1 g per 100 g of
water; saturation is 31.2 at 50 F: 99.8 %, just clear, and crystals below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from formulas.engine.problem import BadProblem, FieldError, Stock
from formulas.engine.result import Share
from formulas.engine.units import celsius, fahrenheit
from formulas.engine.validate import SUM_TOLERANCE_PCT

#: Moles of each ion in 100 g of product per percent of the key it is stated as. Atomic masses:
#: IUPAC-based (PyPI ``molmass``): K 39.0983, O 15.9994, N 14.0067, Cl 35.453, S 32.065.
_MOL_PER_PCT: Final[Mapping[str, tuple[str, float]]] = {
    "K": ("K2O", 2 / (2 * 39.0983 + 15.9994)),
    "NO3": ("N.nitrate", 1 / 14.0067),
    "NH4": ("N.ammoniacal", 1 / 14.0067),
    "Cl": ("Cl", 1 / 35.453),
    "SO4": ("S", 1 / 32.065),
    "urea": ("N.urea", 1 / (2 * 14.0067)),
}
IONS: Final = tuple(_MOL_PER_PCT)
#: Sulfur counts as sulfate only in stocks that hold sulfate.
_SULFATE: Final = "sulfate"
#: The least mass that a percent of a key brings with it, from the same atomic masses: urea 2.1438
#: per N, nitrate 4.4268, ammonium 1.2878; condensed urea 2.358 (methylenediurea, 42.41 % N).
_LEAST_MASS: Final[Mapping[str, float]] = {
    "N.urea": 2.1438,
    "N.nitrate": 4.4268,
    "N.ammoniacal": 1.2878,
    "N.slow": 2.358,
    "N.insoluble": 2.358,
    "K2O": 0.8301,
}
_FULL: Final = 100.0
#: Rounded tables are not crossed by float noise.
_NOISE_PCT: Final = 1e-6


class ColdVerdict(StrEnum):
    """``clear`` and ``may_salt_out`` are a screen's words, never a promise."""

    CLEAR = "clear"
    MAY_SALT_OUT = "may_salt_out"
    NOT_ASSESSED = "not_assessed"


@dataclass(frozen=True, slots=True)
class SolubilityPoint:
    """Grams that 100 g of water hold at a temperature, and whether that was read in the source."""

    temperature_c: float
    g_per_100g: float
    source: str
    verified: bool


@dataclass(frozen=True, slots=True)
class SaltSolubility:
    """A salt: how many of each ion (``IONS``), molar mass in g/mol, points by temperature.

    Where all ions of ``not_judged_beside`` are there an excess says nothing, for the reason given.
    """

    code: str
    name: str
    molar_mass_g: float
    ions: Mapping[str, int]
    points: tuple[SolubilityPoint, ...]
    not_judged_beside: tuple[str, ...] = ()
    not_judged_reason: str = ""


@dataclass(frozen=True, slots=True)
class ColdStock:
    """A stock, its free water in percent by weight and its salt-out point; None: not known."""

    stock: Stock
    water_pct: float | None
    salt_out_f: float | None
    salt_out_source: str = ""


@dataclass(frozen=True, slots=True)
class NeatVerdict:
    """A stock of the recipe on its own."""

    code: str
    verdict: ColdVerdict
    salt_out_f: float | None
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class SaltVerdict:
    """One salt. Shares of saturation with the most and the least water the batch may hold.

    None where the table has no figure for the temperature. ``verified``: every figure used was
    read in its source.
    """

    code: str
    name: str
    verdict: ColdVerdict
    least_saturation_pct: float | None
    most_saturation_pct: float | None
    words: str
    source: str
    verified: bool


@dataclass(frozen=True, slots=True)
class ColdScreen:
    """The screen of one recipe; ``water_unknown`` names stocks whose water nobody published."""

    storage_f: float
    least_water_pct: float
    most_water_pct: float
    water_unknown: tuple[str, ...]
    neat: tuple[NeatVerdict, ...]
    salts: tuple[SaltVerdict, ...]
    words: str


def screen(
    recipe: Sequence[Share],
    stocks: Sequence[ColdStock],
    salts: Sequence[SaltSolubility],
    storage_f: float,
) -> ColdScreen:
    """Screen a recipe (percent by weight, adding up to 100) for a storage temperature.

    Raises ``BadProblem`` naming every wrong field.
    """
    by_code = {each.stock.code: each for each in stocks}
    errors = tuple(_errors(recipe, by_code, storage_f))
    if errors:
        raise BadProblem(errors)
    parts = [(by_code[share.code], share.pct / 100.0) for share in recipe if share.pct > 0]
    least = sum(part * (cold.water_pct or 0.0) for cold, part in parts)
    most = sum(part * _most_water_pct(cold) for cold, part in parts)
    mol = _mol_per_100g(parts)
    return ColdScreen(
        storage_f=storage_f,
        least_water_pct=least,
        most_water_pct=most,
        water_unknown=tuple(cold.stock.code for cold, _ in parts if cold.water_pct is None),
        neat=tuple(_neat(cold, storage_f) for cold, _ in parts),
        salts=tuple(_salt(salt, mol, (least, most), storage_f) for salt in salts),
        words=(
            f"A screen only. Only a jar of this batch kept at {storage_f:g} F can settle whether "
            "it stays clear; the suppliers' sheets come first."
        ),
    )


def solubility_g(salt: SaltSolubility, temperature_c: float) -> float | None:
    """Grams per 100 g of water; None outside the table."""
    points = salt.points
    if not points[0].temperature_c <= temperature_c <= points[-1].temperature_c:
        return None
    low, high = _around(points, temperature_c)
    if low is high:
        return low.g_per_100g
    part = (temperature_c - low.temperature_c) / (high.temperature_c - low.temperature_c)
    return math.exp((1 - part) * math.log(low.g_per_100g) + part * math.log(high.g_per_100g))


def _around(
    points: Sequence[SolubilityPoint], temperature_c: float
) -> tuple[SolubilityPoint, SolubilityPoint]:
    low = max(
        (point for point in points if point.temperature_c <= temperature_c),
        key=lambda point: point.temperature_c,
    )
    high = min(
        (point for point in points if point.temperature_c >= temperature_c),
        key=lambda point: point.temperature_c,
    )
    return low, high


def _most_water_pct(cold: ColdStock) -> float:
    """The known water, or all that the analysis leaves room for."""
    if cold.water_pct is not None:
        return cold.water_pct
    held = sum(_LEAST_MASS.get(key, 1.0) * pct for key, pct in cold.stock.analysis.items())
    return max(0.0, 100.0 - held)


def _mol_per_100g(parts: Sequence[tuple[ColdStock, float]]) -> dict[str, float]:
    return {
        ion: sum(
            part * cold.stock.analysis.get(key, 0.0) * per_pct
            for cold, part in parts
            if ion != "SO4" or _SULFATE in cold.stock.traits
        )
        for ion, (key, per_pct) in _MOL_PER_PCT.items()
    }


def _neat(cold: ColdStock, storage_f: float) -> NeatVerdict:
    at, name = cold.salt_out_f, cold.stock.name
    if at is None:
        verdict, words = ColdVerdict.NOT_ASSESSED, f"{name}: no salt-out point published; ask."
    elif at > storage_f:
        verdict = ColdVerdict.MAY_SALT_OUT
        words = f"{name} on its own salts out (water: freezes) at about {at:g} F."
    else:
        verdict = ColdVerdict.CLEAR
        words = f"{name} on its own stays clear down to about {at:g} F."
    return NeatVerdict(cold.stock.code, verdict, at, words, cold.salt_out_source)


def _salt(
    salt: SaltSolubility,
    mol: Mapping[str, float],
    water_pct: tuple[float, float],
    storage_f: float,
) -> SaltVerdict:
    coldest, warmest = salt.points[0], salt.points[-1]
    asked_c = celsius(storage_f)
    at_c = min(max(asked_c, coldest.temperature_c), warmest.temperature_c)
    used = {point.temperature_c: point for point in _around(salt.points, at_c)}.values()
    saturated = 10.0 * (solubility_g(salt, at_c) or 0.0) / salt.molar_mass_g
    least_water, most_water = water_pct
    low = _saturation_pct(salt, mol, most_water, saturated)
    high = _saturation_pct(salt, mol, least_water, saturated)
    verdict, words = _judged(salt, mol, (low, high), asked_c)
    is_tabled = asked_c == at_c
    return SaltVerdict(
        code=salt.code,
        name=salt.name,
        verdict=verdict,
        least_saturation_pct=low if is_tabled else None,
        most_saturation_pct=high if is_tabled else None,
        words=words,
        source="; ".join(dict.fromkeys(point.source for point in used)),
        verified=all(point.verified for point in used),
    )


def _judged(
    salt: SaltSolubility, mol: Mapping[str, float], pct: tuple[float, float], asked_c: float
) -> tuple[ColdVerdict, str]:
    """The verdict from the shares of saturation at the nearest tabled temperature."""
    low, high = pct
    if high == 0:
        return ColdVerdict.CLEAR, f"The batch holds nothing that makes {salt.name}."
    beside = salt.not_judged_beside and all(mol[ion] > 0 for ion in salt.not_judged_beside)
    coldest = salt.points[0].temperature_c
    if low > _FULL + _NOISE_PCT:
        if beside:
            return ColdVerdict.NOT_ASSESSED, salt.not_judged_reason
        if asked_c > salt.points[-1].temperature_c:
            return ColdVerdict.NOT_ASSESSED, f"No figure for {salt.name} at so high a temperature."
        return (
            ColdVerdict.MAY_SALT_OUT,
            f"{salt.name} would reach {low:.0f} % of its own saturation or more.",
        )
    if asked_c < coldest:
        below = f"No figure for {salt.name} below {fahrenheit(coldest):g} F."
        return ColdVerdict.NOT_ASSESSED, below
    if high > _FULL + _NOISE_PCT:
        band = (
            f"{salt.name}: {low:.0f} % of saturation with the most water the stocks may hold, "
            "over 100 % with what is known of it."
        )
        return ColdVerdict.NOT_ASSESSED, band
    return ColdVerdict.CLEAR, f"{salt.name} reaches at most {high:.0f} % of its own saturation."


def _saturation_pct(
    salt: SaltSolubility, mol: Mapping[str, float], water_pct: float, saturated: float
) -> float:
    """Share of saturation in percent; infinite where salt meets no water at all."""
    if any(mol[ion] <= 0 for ion in salt.ions):
        return 0.0
    if water_pct <= 0:
        return math.inf
    total = sum(salt.ions.values())
    logs = sum(
        count * math.log(1000.0 * mol[ion] / water_pct / (count * saturated))
        for ion, count in salt.ions.items()
    )
    return 100.0 * math.exp(logs / total)


def _errors(
    recipe: Sequence[Share], stocks: Mapping[str, ColdStock], storage_f: float
) -> Iterator[FieldError]:
    if not -60.0 <= storage_f <= 200.0:
        yield FieldError("storage_f", "Must be a temperature from -60 to 200 degrees F.")
    for index, share in enumerate(recipe):
        if share.code not in stocks:
            yield FieldError(f"recipe.{index}.code", f"There is no stock {share.code}.")
        if not (math.isfinite(share.pct) and 0 <= share.pct <= 100):
            yield FieldError(f"recipe.{index}.pct", "Must be a number from 0 to 100 percent.")
    if not abs(sum(share.pct for share in recipe) - 100.0) <= SUM_TOLERANCE_PCT:
        yield FieldError("recipe", "The shares must add up to 100 percent.")
    for code, cold in stocks.items():
        if cold.water_pct is not None and not 0 <= cold.water_pct <= 100:
            yield FieldError(f"stocks.{code}.water_pct", "Must be from 0 to 100 percent.")
