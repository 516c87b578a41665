"""From what was said to the body of a formulation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.meanings import (
    AirTemperature,
    Content,
    Gallons,
    LeavesIn,
    Meaning,
    NitrogenRate,
    Packages,
    Pounds,
    Said,
    SprayedIn,
    SprayTank,
    SprayVolume,
    Unit,
    Without,
)
from formulas.spoken_wish.reading import Heard
from formulas.spoken_wish.sources import NamedStock, stocks_of
from formulas.spoken_wish.together import limits_of

#: What a package holds where no table of packages says otherwise; a size that is said comes
#: first. Nominal sizes: common practice, no source (the plant's own totes are of 265 gal).
USUAL_GAL: Final[Mapping[Unit, float]] = {Unit.TOTE: 265.0, Unit.DRUM: 55.0}


def request_body(heard: Heard, stocks: Iterable[NamedStock]) -> dict[str, Any]:
    """The keys of a formulation that say the same as the line."""
    contents = limits_of(heard.said)
    body: dict[str, Any] = {}
    targets = [
        {"nutrient": key} | _limits(content)
        for key, content in contents.items()
        if key != SLOW_RELEASE
    ]
    if targets:
        body["targets"] = targets
    if SLOW_RELEASE in contents:
        body["slow_release_pct"] = _limits(contents[SLOW_RELEASE])
    meanings = [said.meaning for said in heard.said]
    offered = tuple(stocks)
    exclude = {
        code: None
        for meaning in meanings
        if isinstance(meaning, Without)
        for code in stocks_of(meaning.source, offered)
    }
    if exclude:
        body["exclude"] = list(exclude)
    for meaning in meanings:
        if fill := _fill(meaning):
            body["fill"] = fill
    return body


def spray_facts(heard: Heard) -> dict[str, Any]:
    """What a line says of the lawn, which no formulation asks: rate, volume, tank, air, state."""
    found: dict[str, Any] = {}
    for said in heard.said:
        found |= _spray_fact(said.meaning)
    return found


def not_of_a_formulation(heard: Heard) -> tuple[Said, ...]:
    """What would bind a blend and has no key in a formulation: the law, a price, delivery."""
    known = (
        Content, Packages, Gallons, Pounds, LeavesIn, Without,
        NitrogenRate, SprayVolume, SprayTank, AirTemperature, SprayedIn,
    )  # fmt: skip
    return tuple(said for said in heard.said if not isinstance(said.meaning, known))


def _limits(content: Content) -> dict[str, float]:
    sides = {"min": content.low_pct, "max": content.high_pct}
    return {side: pct for side, pct in sides.items() if pct is not None}


def _fill(meaning: Meaning) -> dict[str, float] | None:
    match meaning:
        case Packages(count, unit, size):
            return {"volume_gal": count * (USUAL_GAL[unit] if size is None else size)}
        case Gallons(gal):
            return {"volume_gal": gal}
        case Pounds(lb):
            return {"mass_lb": lb}
    return None


def _spray_fact(meaning: Meaning) -> dict[str, Any]:
    match meaning:
        case NitrogenRate(lb):
            return {"n_rate_lb_per_1000sqft": lb}
        case SprayVolume(gal, _):
            return {"carrier_gal_per_1000sqft": gal}
        case SprayTank(gal):
            return {"tank_gal": gal}
        case AirTemperature(f):
            return {"air_temp_f": f}
        case SprayedIn(state):
            return {"state": state}
    return {}
