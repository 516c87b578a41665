"""The largest legal rate of a product: the bound that the law sets on the spray sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from formulas.engine.law.application import Circumstances
from formulas.engine.law.check import binds
from formulas.engine.law.finding import at_least
from formulas.engine.law.nitrogen import readily_limit_lb, total_limit_lb
from formulas.engine.law.place_and_time import in_window
from formulas.engine.law.readings import Reading, readings
from formulas.engine.law.rules import (
    Applicator,
    Basis,
    Blackout,
    NitrogenPerApplication,
    Rule,
    RulePack,
    SlowShare,
    Status,
)


@dataclass(frozen=True, slots=True)
class LargestRate:
    """The largest total nitrogen per application, lb per 1,000 sq ft; infinite without a limit.

    ``wide_lb`` is what the widest reading of the texts allows, ``narrow_lb`` what the narrowest
    does; they differ where a text leaves open whether water-soluble slow nitrogen counts, or
    from which rate on a share is asked. Where they differ both must be shown. ``rule`` sets
    the narrow figure.
    """

    wide_lb: float
    narrow_lb: float
    rule: Basis | None


def largest_n_rate(
    packs: Iterable[RulePack],
    slow_share_pct: float,
    circumstances: Circumstances | None = None,
    *,
    insoluble_share_pct: float = 0.0,
    on: date | None = None,
    include_unverified: bool = True,
) -> LargestRate:
    """Bound the rate of a product with these shares, percent of its total nitrogen.

    ``slow_share_pct`` is all slowly available nitrogen, ``insoluble_share_pct`` its part that is
    not water-soluble. Annual limits are not in it: ``check_season`` holds them.
    """
    answers = circumstances or Circumstances()
    wide, narrow, sets = math.inf, math.inf, None
    for rule in (rule for pack in packs for rule in pack.rules):
        if not binds(rule, answers):
            continue
        if rule.basis.status is Status.UNVERIFIED and not include_unverified:
            continue
        bounds = tuple(_bounds(rule, slow_share_pct, insoluble_share_pct, answers, on))
        if not bounds:
            continue
        wide = min(wide, max(bounds))
        if min(bounds) < narrow:
            narrow, sets = min(bounds), rule.basis
    return LargestRate(wide, narrow, sets)


def _bounds(
    rule: Rule, slow_pct: float, insoluble_pct: float, answers: Circumstances, on: date | None
) -> Iterator[float]:
    """The largest rate under each reading of one rule."""
    if isinstance(rule, NitrogenPerApplication):
        if rule.grass and answers.grass is not None and answers.grass not in rule.grass:
            return
        for way in readings(rule.soluble_slow, slow_pct, insoluble_pct):
            yield min(total_limit_lb(rule, way.slow_pct, on), readily_limit_lb(rule, way.slow_pct))
    elif isinstance(rule, SlowShare):
        for way in readings(rule.soluble_slow, slow_pct, insoluble_pct):
            yield from _share_bounds(rule, way, slow_pct, answers)
    elif isinstance(rule, Blackout) and on is not None:
        yield from _blackout_bounds(rule, answers, on)


def _share_bounds(
    rule: SlowShare, way: Reading, slow_pct: float, answers: Circumstances
) -> Iterator[float]:
    """Without the share, only a rate that the text exempts, or may exempt, remains."""
    if at_least(way.slow_pct, rule.smallest_pct):
        yield math.inf
        return
    total, readily = rule.liquid_exempt_total_lb, rule.liquid_exempt_readily_available_lb
    if total is not None and readily is not None:
        yield min(total, readily / (1.0 - slow_pct / 100.0) if slow_pct < 100.0 else math.inf)
        return
    exempt = rule.exempt_up_to_n_lb or 0.0
    if rule.exempt_applicator is not Applicator.ANYONE and not answers.professional:
        exempt = 0.0
    yield exempt
    if rule.certain_above_n_lb is not None:
        yield max(exempt, rule.certain_above_n_lb)


def _blackout_bounds(rule: Blackout, answers: Circumstances, on: date) -> Iterator[float]:
    if "N" in rule.nutrients and in_window(on, rule.first, rule.last):
        yield math.inf if rule.new_lawn_exempt and answers.new_lawn else rule.largest_n_lb
