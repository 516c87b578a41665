"""Release outlook: how much of a blend's nitrogen has turned available, day by day.

Pools i with nitrogen ``N_i`` (lb per 1,000 sq ft) are first order::

    F_i(t) = 1 - exp(-integral k_i dt)       released fraction
    k_i    = k25_i x Q10_i ^ ((T - 25) / 10) x f(W)
    S(t)   = sum N_i k_i exp(-integral k_i dt)

T is the soil temperature in C, capped where Q10 functions fail (Heumann and Boettcher 2004);
microbial pools stand still below a cut-off; f is ``moisture_factor``. The rates come from the
fact tables with their sources. Each pool has a slow, a usual and a fast rate, so the answer is a
band: studies differ by more than any season does. With the soil of each day held constant the
sums below are exact.

"Released" means converted to ammonium, not seen on the lawn. Nothing of this goes on a label.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.field.release_pools import BlendPools, PoolKind, PoolNitrogen, pool_errors
from formulas.engine.field.release_season import (
    OUTLOOK_DAYS,
    SoilSeason,
    daily_soil_temp_c,
    moisture_factor,
)
from formulas.engine.mark import Mark
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.result import Finding, Severity

_REFERENCE_TEMP_C: Final = 25.0
_MOSTLY_RELEASED: Final = 0.9


class Pace(StrEnum):
    """The edges and the middle of the band, by rate."""

    SLOW = "slow"
    USUAL = "usual"
    FAST = "fast"


@dataclass(frozen=True, slots=True)
class Rate:
    """A first-order rate at 25 C and its growth per 10 C; ``mark`` says how far to trust it."""

    k25_per_day: float
    q10: float
    mark: Mark
    source: str


@dataclass(frozen=True, slots=True)
class PoolRates:
    """The rates of one pool at each pace."""

    kind: PoolKind
    name: str
    is_microbial: bool
    rates: Mapping[Pace, Rate]


@dataclass(frozen=True, slots=True)
class TradeExpectation:
    """What the trade says of some pools, and what studies found instead.

    The words complete "the trade expects ..." and "but ...". ``days_low`` is None for "up to".
    """

    concerns: frozenset[PoolKind]
    expects: str
    days_low: float | None
    days_high: float
    mark: Mark
    studies_found: str
    studies_source: str


@dataclass(frozen=True, slots=True)
class ReleaseModel:
    """Rates and limits of the model, read from the fact tables.

    Feeding ends when less than ``feeding_remaining_pct`` of the applied nitrogen is left or the
    daily supply is below ``feeding_least_lb_per_1000sqft``.
    """

    pools: Mapping[PoolKind, PoolRates]
    microbial_cutoff_c: float
    cap_c: Mapping[Pace, float]
    usual_relative_water_content: float
    feeding_remaining_pct: float
    feeding_least_lb_per_1000sqft: float
    trade: tuple[TradeExpectation, ...]


@dataclass(frozen=True, slots=True)
class ReleaseLine:
    """One line of the band, pounds of N per 1,000 sq ft.

    ``cumulative_...`` has a value for the start of each day and one for the end of the last;
    it starts with what is available at once. ``daily_...`` is the supply during each day, what
    is there at once left out. ``feeding_end_day`` is None if the blend still feeds at the end.
    """

    cumulative_lb_per_1000sqft: tuple[float, ...]
    daily_lb_per_1000sqft: tuple[float, ...]
    feeding_end_day: int | None


@dataclass(frozen=True, slots=True)
class PoolOutlook:
    """One pool: what it holds, its rates, and the days until 90 % is released (None: later)."""

    kind: PoolKind
    name: str
    n_lb_per_1000sqft: float
    rates: Mapping[Pace, Rate]
    days_to_90_pct: Mapping[Pace, int | None]


@dataclass(frozen=True, slots=True)
class ReleaseOutlook:
    """The band, the trade's expectations beside it, and where the two disagree (or None)."""

    season: SoilSeason
    applied_n_lb_per_1000sqft: float
    at_once_lb_per_1000sqft: float
    not_modelled_lb_per_1000sqft: float
    lines: Mapping[Pace, ReleaseLine]
    pools: tuple[PoolOutlook, ...]
    trade: tuple[TradeExpectation, ...]
    disagreement: str | None
    findings: tuple[Finding, ...]


def release_outlook(blend: BlendPools, season: SoilSeason, model: ReleaseModel) -> ReleaseOutlook:
    """The band over 16 weeks; raises ``BadProblem`` naming every wrong field."""
    errors = tuple(pool_errors(blend))
    if errors:
        raise BadProblem(errors)
    temp_c = daily_soil_temp_c(season)
    moisture = moisture_factor(season.relative_water_content)
    at_once_lb = sum(p.n_lb_per_1000sqft for p in blend.pools if p.kind is PoolKind.AT_ONCE)
    timed = [pool for pool in blend.pools if pool.kind is not PoolKind.AT_ONCE]
    released = {
        pace: [
            released_fraction(
                model.pools[pool.kind].rates[pace],
                temp_c,
                moisture=moisture,
                cap_c=model.cap_c[pace],
                cutoff_c=model.microbial_cutoff_c if model.pools[pool.kind].is_microbial else None,
            )
            for pool in timed
        ]
        for pace in Pace
    }
    pools = tuple(
        _pool_outlook(pool, model, {pace: released[pace][position] for pace in Pace})
        for position, pool in enumerate(timed)
    )
    trade = tuple(
        expectation
        for expectation in model.trade
        if any(pool.kind in expectation.concerns for pool in pools)
    )
    return ReleaseOutlook(
        season=season,
        applied_n_lb_per_1000sqft=blend.applied_n_lb_per_1000sqft,
        at_once_lb_per_1000sqft=at_once_lb,
        not_modelled_lb_per_1000sqft=blend.not_modelled_lb_per_1000sqft,
        lines=_lines(at_once_lb, timed, released, model),
        pools=pools,
        trade=trade,
        disagreement=_disagreement(trade, pools),
        findings=(*blend.findings, *_CAUTIONS),
    )


def released_fraction(
    rate: Rate, temp_c: Floats, *, moisture: float, cap_c: float, cutoff_c: float | None
) -> Floats:
    """Fraction released by the start of each day and by the end of the last.

    ``temp_c`` has one soil temperature a day; below ``cutoff_c`` (None: no cut-off) nothing is
    released, above ``cap_c`` the rate grows no more.
    """
    if not (math.isfinite(rate.k25_per_day) and rate.k25_per_day >= 0 and rate.q10 > 0):
        raise BadProblem((FieldError("rate", "A rate needs k25 of 0 or more and Q10 above 0."),))
    warmth = (np.minimum(temp_c, cap_c) - _REFERENCE_TEMP_C) / 10.0
    k_per_day = rate.k25_per_day * rate.q10**warmth * moisture
    if cutoff_c is not None:
        k_per_day = np.where(temp_c < cutoff_c, 0.0, k_per_day)
    fraction: Floats = -np.expm1(-np.concatenate([[0.0], np.cumsum(k_per_day)]))
    return fraction


def _lines(
    at_once_lb: float,
    timed: list[PoolNitrogen],
    released: Mapping[Pace, list[Floats]],
    model: ReleaseModel,
) -> dict[Pace, ReleaseLine]:
    """The lines; feeding ends no sooner at a slower pace than at a faster one.

    A pace too slow for the least daily supply would "end" first although most of its nitrogen
    is still there, so its mark is no earlier than that of a faster line. Q10s of their own may
    swap the edges in cold soil: the fast edge is the one that releases more in this season.
    """
    lines = {pace: _line(at_once_lb, timed, released[pace], model) for pace in Pace}
    faster, slower = sorted(
        (lines[Pace.FAST], lines[Pace.SLOW]),
        key=lambda line: sum(line.cumulative_lb_per_1000sqft),
        reverse=True,
    )
    fast = _last_day(faster)
    usual = max(fast, _last_day(lines[Pace.USUAL]))
    slow = max(usual, _last_day(slower))
    ends = {Pace.SLOW: slow, Pace.USUAL: usual, Pace.FAST: fast}
    return {
        pace: replace(line, feeding_end_day=None if ends[pace] == OUTLOOK_DAYS else ends[pace])
        for pace, line in lines.items()
    }


def _last_day(line: ReleaseLine) -> int:
    return OUTLOOK_DAYS if line.feeding_end_day is None else line.feeding_end_day


def _line(
    at_once_lb: float, timed: list[PoolNitrogen], released: list[Floats], model: ReleaseModel
) -> ReleaseLine:
    cumulative_lb = np.full(OUTLOOK_DAYS + 1, at_once_lb)
    for pool, fraction in zip(timed, released, strict=True):
        cumulative_lb = cumulative_lb + pool.n_lb_per_1000sqft * fraction
    daily_lb = np.diff(cumulative_lb)
    applied_lb = at_once_lb + sum(pool.n_lb_per_1000sqft for pool in timed)
    # Nitrogen without a rate is left out of both sides: nobody knows when it feeds.
    remaining_lb = applied_lb - cumulative_lb[:-1]
    feeds = (remaining_lb >= model.feeding_remaining_pct / 100.0 * applied_lb) & (
        daily_lb >= model.feeding_least_lb_per_1000sqft
    )
    # A cold spell may interrupt the supply: feeding ends after the last day that feeds.
    end_day = int(np.flatnonzero(feeds)[-1]) + 1 if feeds.any() else 0
    return ReleaseLine(
        cumulative_lb_per_1000sqft=tuple(cumulative_lb.tolist()),
        daily_lb_per_1000sqft=tuple(daily_lb.tolist()),
        feeding_end_day=None if end_day == OUTLOOK_DAYS else end_day,
    )


def _pool_outlook(
    pool: PoolNitrogen, model: ReleaseModel, released: Mapping[Pace, Floats]
) -> PoolOutlook:
    facts = model.pools[pool.kind]
    days: dict[Pace, int | None] = {}
    for pace, fraction in released.items():
        reached = np.flatnonzero(fraction >= _MOSTLY_RELEASED)
        days[pace] = int(reached[0]) if reached.size else None
    return PoolOutlook(pool.kind, facts.name, pool.n_lb_per_1000sqft, facts.rates, days)


def _disagreement(
    trade: tuple[TradeExpectation, ...], pools: tuple[PoolOutlook, ...]
) -> str | None:
    """One sentence; None where no trade expectation concerns the blend."""
    parts = tuple(_expected_and_found(expectation, pools) for expectation in trade)
    return f"The trade expects {'; it also expects '.join(parts)}." if parts else None


def _expected_and_found(expectation: TradeExpectation, pools: tuple[PoolOutlook, ...]) -> str:
    days = next(
        pool.days_to_90_pct[Pace.FAST] for pool in pools if pool.kind in expectation.concerns
    )
    weeks = OUTLOOK_DAYS // 7
    when = f"in about {days} days" if days is not None else f"only after {weeks} weeks"
    return (
        f"{expectation.expects} ({expectation.mark}), but {expectation.studies_found} "
        f"({expectation.studies_source}), and at the fast edge of the band 90 % of it is released "
        f"{when} of this season"
    )


def _cautions() -> Iterator[Finding]:
    yield Finding(
        "estimate",
        Severity.CAUTION,
        "An estimate from laboratory rates. Weather, soil, mowing and thatch decide what a lawn "
        "sees; studies differ by more than this model knows.",
        "Heumann and Boettcher 2004 on the limits of temperature functions; the band itself is "
        "this project's own reading of the studies named at each rate",
    )
    yield Finding(
        "released_is_not_response",
        Severity.INFO,
        "Released means turned into ammonium or nitrate. Turf answers longer: water-soluble "
        "nitrogen lasts 2 to 6 weeks on turf although urea turns within days.",
        "Cornell University, safe sports fields (safesportsfields.cals.cornell.edu)",
    )
    yield Finding(
        "not_for_the_label",
        Severity.CAUTION,
        "Nothing of this goes on the label: a duration there may need a testing programme behind "
        "it. State and local rules decide.",
        "WAC 16-200-721",
    )


_CAUTIONS: Final = tuple(_cautions())
