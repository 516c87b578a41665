"""What a line was read as, in the notation of ``lines.txt``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from formulas.spoken_wish.meanings import (
    AirTemperature,
    Content,
    Delivered,
    Gallons,
    LeavesIn,
    LegalWhereSprayed,
    Meaning,
    NitrogenRate,
    Packages,
    Pounds,
    PriceAtMost,
    Question,
    SprayedIn,
    SprayTank,
    SprayVolume,
    Without,
)
from formulas.spoken_wish.reading import Heard
from formulas.spoken_wish.together import limits_of


def asks_of(heard: Heard) -> frozenset[str]:
    contents = limits_of(heard.said).values()
    others = (said.meaning for said in heard.said if not isinstance(said.meaning, Content))
    return frozenset([*map(_content, contents), *map(_other, others)])


def question_of(question: Question) -> str:
    about = question.about if question.ask not in {"slow_share", "slow_n", "price_per"} else ""
    if question.ask in {"decimal", "grade", "rate_or_mass", "pail_size"}:
        about = ""
    names = {"slow_release": "slow", "SprayedIn": "state"}
    return f"{question.ask}:{names.get(about, about)}" if about else str(question.ask)


def _content(content: Content) -> str:
    key = "slow" if content.key == "slow_release" else content.key
    low, high = content.low_pct, content.high_pct
    if high is None:
        return f"{key}>={low:.10g}"
    return f"{key}<={high:.10g}" if low is None else f"{key}={low:.10g}..{high:.10g}"


_WRITTEN: Final[Mapping[type[Any], Callable[[Any], str]]] = {
    Packages: lambda it: f"{it.count}*{it.unit}" + (f"({it.size_gal:g})" if it.size_gal else ""),
    Gallons: lambda it: f"{it.gal:.10g}gal",
    Pounds: lambda it: f"{it.lb:.10g}lb",
    LeavesIn: lambda it: f"in_{it.unit}",
    NitrogenRate: lambda it: f"rate={it.lb_per_1000sqft:.10g}",
    SprayVolume: lambda it: f"carrier={it.gal_per_1000sqft:.10g}",
    SprayTank: lambda it: f"tank={it.gal:.10g}",
    AirTemperature: lambda it: f"air={it.f:.10g}",
    Without: lambda it: f"-{it.source}",
    SprayedIn: lambda it: it.state,
    PriceAtMost: lambda it: f"price<={float(it.dollars):.10g}/{it.per}",
    LegalWhereSprayed: lambda _: "legal",
    Delivered: lambda _: "delivered",
}


def _other(meaning: Meaning) -> str:
    return _WRITTEN[type(meaning)](meaning)
