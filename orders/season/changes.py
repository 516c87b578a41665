"""What to change where a limit is broken: the rate that fits, or the blend that does."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final
from urllib.parse import urlencode

from blendshop.errors import BadInput
from formulas.answers.promised_grade import promised_grade
from formulas.answers.wish import Range, Target, Wish
from formulas.contracts.deadline import TooLargeToDecide
from formulas.contracts.formulation import formulate
from formulas.engine.composition import with_total_n
from formulas.engine.law import at_n_rate, wishes_for
from formulas.engine.wishes import SLOW_RELEASE
from formulas.engine_bridge import Catalogue
from orders.blend_page.fields import ALL_ROWS, wish_field
from orders.blend_page.legal import LegalLimit, legal_limits, tightened
from orders.compliance.check import law_report, packs_at
from orders.models import ProgramRound
from orders.reordering.preview import guaranteed_wish
from orders.season.law import (
    ANNUAL_TOPICS,
    CONTENT_TOPICS,
    Alike,
    SeasonLaw,
    keeps_every_limit,
    keeps_every_year,
)
from orders.season.reader_units import kept, rate_unit, shown

#: Rates are offered in hundredths of the reader's unit, as spreader and spray tables state them.
_STEPS: Final = 100
#: A page solves no more blends than this; the others are offered as a link without a grade.
_MOST_SOLVED: Final = 3
#: A rate that brings nothing, for a round that is left out; 0 would stand for its own.
_LEFT_OUT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class OtherBlend:
    """A blend that keeps the limits at the round's rate; ``grade`` is empty where none is found.

    ``link`` are the fields of the blend page with the law ticked.
    """

    grade: str
    slow_pct: float | None
    words: str
    link: str


@dataclass(frozen=True, slots=True)
class RoundChange:
    """What would put a round right: the largest rate that fits, another blend, or neither."""

    round: ProgramRound
    rate: float | None
    blend: OtherBlend | None


@dataclass(frozen=True, slots=True)
class YearChange:
    """Every round at the same part of its rate, so that the year's sums fit."""

    pct: int
    rates: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class YearWithout:
    """What keeps the year's limits where no common part of all rates does.

    ``alone``: each of these rounds, put at the rate beside it or (at 0) left out, is enough while
    the others stay. Where none is, ``together`` are left out, the largest rates first; empty where
    even without every round to come a limit stays broken.
    """

    alone: tuple[tuple[ProgramRound, float], ...]
    together: tuple[ProgramRound, ...]


@dataclass(frozen=True, slots=True)
class WhatToChange:
    """``year`` or ``without`` is there where a limit of the year is broken, never both."""

    rounds: tuple[RoundChange, ...]
    year: YearChange | None
    without: YearWithout | None


def what_to_change(law: SeasonLaw, catalogue: Catalogue) -> WhatToChange:
    """For each round over a limit what fits; for the year the largest part of all rates."""
    groups = [one.alike for one in law.checked]
    rounds = {each.round.pk: each.round for each in law.over if each.round is not None}
    changes = []
    solved = 0
    for rnd in rounds.values():
        topics = {each.row.topic for each in law.over_in(rnd)}
        blend = None
        if topics & CONTENT_TOPICS:
            blend = _other_blend(rnd, groups, catalogue, solve=solved < _MOST_SOLVED)
            solved += 1
        changes.append(RoundChange(rnd, largest_rate(rnd, groups), blend))
    wrong = [one.alike for one in law.checked if any(row.slug == "fails" for row in one.yearly)]
    year = _year(wrong) if wrong else None
    return WhatToChange(tuple(changes), year, _without(wrong) if wrong and year is None else None)


def largest_rate(rnd: ProgramRound, groups: Sequence[Alike]) -> float | None:
    """The largest rate up to the round's own, in lb, at which it breaks nothing."""
    return _largest_that(rnd, lambda rate: keeps_every_limit(rnd, groups, rate)) or None


def _largest_that(rnd: ProgramRound, fits: Callable[[float], bool]) -> float:
    """The largest rate up to the round's own that fits, in lb; 0 if none does."""
    steps = _largest(_steps(rnd.n_rate_lb_per_1000sqft), lambda n: fits(_of_steps(n)))
    return _of_steps(steps)


def _steps(rate: float) -> int:
    """Whole hundredths of the reader's unit in a rate in lb."""
    return math.floor(float(shown(rate_unit(), rate)) * _STEPS + 1e-9)


def _of_steps(steps: int) -> float:
    return kept(rate_unit(), steps / _STEPS)


def _year(wrong: Sequence[Alike]) -> YearChange | None:
    """``wrong`` are the groups whose own year is broken; their rounds are all lowered alike.

    What is released is ordered and stays at its rate.
    """
    own, lowered = _own_rates(wrong), _to_come(wrong)

    def at(pct: int) -> dict[int, float]:
        return {
            pk: _of_steps(_steps(rnd.n_rate_lb_per_1000sqft * pct / 100))
            for pk, rnd in lowered.items()
        }

    def fits(pct: int) -> bool:
        rates = {pk: rate or _LEFT_OUT for pk, rate in at(pct).items()}
        return keeps_every_year(wrong, own | rates)

    # Below the smallest share at which every round still has a rate nothing is offered.
    pct = _largest(99, fits) if lowered else 0
    return YearChange(pct, at(pct)) if pct and fits(pct) and all(at(pct).values()) else None


def _without(wrong: Sequence[Alike]) -> YearWithout:
    own, free = _own_rates(wrong), _to_come(wrong)

    def fits(rates: Mapping[int, float]) -> bool:
        return keeps_every_year(wrong, {**own, **rates})

    alone = tuple(
        (rnd, _largest_that(rnd, partial(_with_one, fits, rnd.pk)))
        for rnd in free.values()
        if fits({rnd.pk: _LEFT_OUT})
    )
    together: list[ProgramRound] = []
    if not alone:
        by_rate = sorted(free.values(), key=lambda rnd: -rnd.n_rate_lb_per_1000sqft)
        for rnd in by_rate:
            together.append(rnd)
            if fits({each.pk: _LEFT_OUT for each in together}):
                break
        else:
            together = []
    return YearWithout(alone, tuple(together))


def _with_one(fits: Callable[[Mapping[int, float]], bool], pk: int, rate: float) -> bool:
    return fits({pk: rate})


def _own_rates(groups: Iterable[Alike]) -> dict[int, float]:
    return {rnd.pk: rnd.n_rate_lb_per_1000sqft for each in groups for rnd in each.rounds}


def _to_come(groups: Iterable[Alike]) -> dict[int, ProgramRound]:
    return {rnd.pk: rnd for each in groups for rnd in each.rounds if not rnd.released_as}


def _largest(most: int, fits: Callable[[int], bool]) -> int:
    """The largest of 1 to ``most`` that fits, 0 if none; less of it never fits worse."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        if fits(middle):
            low = middle
        else:
            high = middle - 1
    return low


def _other_blend(
    rnd: ProgramRound, groups: Sequence[Alike], catalogue: Catalogue, *, solve: bool
) -> OtherBlend | None:
    """The round's guarantees with the law's limits in them, solved and checked again."""
    own = [each for each in groups if rnd in each.rounds]
    limits = [limit for each in own for limit in _limits(rnd, each)]
    if not limits:
        return None
    wish = _within(guaranteed_wish(rnd.revision), limits)
    words = "; ".join(dict.fromkeys(limit.words for limit in limits))
    link = _link(rnd, own[0], wish)
    if not solve:
        return OtherBlend("", None, words, link)
    try:
        blend = formulate(wish.contract_json(), catalogue=catalogue).blend
    except (BadInput, TooLargeToDecide):
        blend = None
    rate = rnd.n_rate_lb_per_1000sqft
    if blend is None or not all(_keeps(rnd, each, blend.analysis, rate) for each in own):
        return OtherBlend("", None, words, link)
    return OtherBlend(
        grade=promised_grade(wish, with_total_n(blend.analysis)),
        slow_pct=blend.slow_release_pct,
        words=words,
        link=link,
    )


def _limits(rnd: ProgramRound, each: Alike) -> Iterator[LegalLimit]:
    yield from legal_limits(
        wishes_for(
            packs_at(each.place).packs,
            each.circumstances(rnd.on),
            rnd.n_rate_lb_per_1000sqft,
            n_pct=rnd.revision.analysis.get("N"),
            on=rnd.on,
            include_unverified=True,
        )
    )


def _keeps(rnd: ProgramRound, each: Alike, analysis: Mapping[str, float], rate: float) -> bool:
    """Whether another blend keeps the limits of the blend itself; a rate has its own change."""
    report = law_report(each.place, at_n_rate(analysis, rate, rnd.on, each.circumstances(rnd.on)))
    return not any(
        row.topic in CONTENT_TOPICS and row.topic not in ANNUAL_TOPICS for row in report.failing
    )


def _within(wish: Wish, limits: Sequence[LegalLimit]) -> Wish:
    """The wish with the limits in it; a guarantee above what the law allows is given up."""
    slow = wish.slow_release_pct or Range()
    targets = {target.nutrient: target.range for target in wish.targets}
    for limit in limits:
        if limit.key == SLOW_RELEASE:
            slow = tightened(slow, limit)
            continue
        had = targets.get(limit.key, Range())
        if limit.max_pct is not None and (had.min or 0.0) > limit.max_pct:
            had = Range(max=had.max)
        targets[limit.key] = tightened(had, limit)
    return replace(
        wish,
        targets=tuple(Target(key, each.min, each.max) for key, each in targets.items()),
        slow_release_pct=slow if slow != Range() else None,
    )


def _link(rnd: ProgramRound, each: Alike, wish: Wish) -> str:
    """The blend page with the wish, the place, the day and the law ticked."""
    one, slow = each.properties[0], wish.slow_release_pct or Range()
    sides = {
        wish_field(target.nutrient, side): figure
        for target in wish.targets
        if target.nutrient in ALL_ROWS
        for side, figure in (("min", target.min), ("max", target.max))
    }
    program = rnd.program
    answers = {
        f"q_{name}": "yes" if said else "no"
        for name, said in (
            ("professional", program.professional),
            ("targeted_spray", one.targeted_spray),
            ("soil_test_shows_p_need", one.soil_test_shows_p_need),
            ("new_lawn", False),
        )
        if said is not None
    }
    fields = {
        **sides,
        "slow_min": slow.min,
        "slow_max": slow.max,
        "company": program.company_id,
        "ship_to": program.ship_to_id,
        "package": program.package.code,
        "n_rate": rnd.n_rate_lb_per_1000sqft,
        "carrier": one.carrier_gal_per_1000sqft,
        "law_state": one.state,
        "law_county": one.county,
        "law_place": one.place,
        "law_on": rnd.on.isoformat(),
        "q_grass": one.grass,
        **answers,
        "legal": "on",
        "legal_unverified": "on",
    }
    said = {
        key: f"{value:g}" if isinstance(value, float) else value
        for key, value in fields.items()
        if value not in (None, "")
    }
    return urlencode(said)
