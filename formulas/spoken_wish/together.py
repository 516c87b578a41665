"""The phrases of a line held against each other: what was said twice, and what still lacks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.meanings import (
    Ask,
    Choice,
    Content,
    Gallons,
    LeavesIn,
    Meaning,
    Packages,
    Pounds,
    Question,
    Said,
    SprayVolume,
    Unit,
    Without,
)
from formulas.spoken_wish.saying import say

#: A share said as one typed number, without "of the nitrogen"; "12 of it" may be either.
_IS_PLAIN_FIGURE: Final = re.compile(
    r"(?:(?!.*\bof\b)|(?=.*\d\s+of (?:it|that)\b))[^/½⅓⅔¼¾]*\d[^/½⅓⅔¼¾]*", re.IGNORECASE
)


def agreed(said: Iterable[Said], n_pct: float | None = None) -> tuple[list[Said], list[Question]]:
    """What was said without contradiction, and questions about the rest.

    ``n_pct`` is the total N where the line does not say it.
    """
    kept: list[Said] = []
    asked: list[Question] = []
    for each in _without_assumptions(list(said)):
        if _contradicts(each.meaning, [earlier.meaning for earlier in kept]):
            asked.append(_question(Ask.TWICE, each, _subject(each.meaning)))
        else:
            kept.append(each)
    unasked = []
    for each in kept:
        question = _lacking(each, kept, n_pct)
        if question is None:
            unasked.append(each)
        else:
            asked.append(question)
    return unasked, asked


def limits_of(said: Iterable[Said]) -> dict[str, Content]:
    """All that was said of each content as one pair of limits, in the order first said."""
    found: dict[str, Content] = {}
    for meaning in (each.meaning for each in said):
        if isinstance(meaning, Content):
            found[meaning.key] = _joined(found.get(meaning.key), meaning)
    return found


def _without_assumptions(said: list[Said]) -> Iterator[Said]:
    """What is only assumed gives way to what was said."""
    volumes = [each.meaning for each in said if isinstance(each.meaning, SprayVolume)]
    is_told = any(not volume.is_assumed for volume in volumes)
    for each in said:
        if not (is_told and isinstance(each.meaning, SprayVolume) and each.meaning.is_assumed):
            yield each


def _contradicts(meaning: Meaning, earlier: list[Meaning]) -> bool:
    if isinstance(meaning, Content):
        before = limits_of(Said(each, "", 0, 0) for each in earlier).get(meaning.key)
        return before is not None and not _fits(before, meaning)
    if isinstance(meaning, Without):
        return False
    return any(_subject(each) == _subject(meaning) and each != meaning for each in earlier)


def _fits(before: Content, after: Content) -> bool:
    for one, other in ((before.low_pct, after.low_pct), (before.high_pct, after.high_pct)):
        if one is not None and other is not None and one != other:
            return False
    both = _joined(before, after)
    return both.low_pct is None or both.high_pct is None or both.low_pct <= both.high_pct


def _joined(before: Content | None, after: Content) -> Content:
    if before is None:
        return after
    low = before.low_pct if after.low_pct is None else after.low_pct
    return Content(after.key, low, before.high_pct if after.high_pct is None else after.high_pct)


def _subject(meaning: Meaning) -> str:
    """What a phrase is about; two phrases about one thing have to agree."""
    if isinstance(meaning, Content):
        return meaning.key
    if isinstance(meaning, Packages | Gallons | Pounds):
        return "amount"
    return type(meaning).__name__


def _lacking(each: Said, said: list[Said], n_pct: float | None) -> Question | None:
    meaning = each.meaning
    if isinstance(meaning, LeavesIn):
        told = [other.meaning for other in said]
        if any(isinstance(other, Gallons | Pounds) for other in told):
            return None
        if any(isinstance(other, Packages) and other.unit is meaning.unit for other in told):
            return None
        choices = () if meaning.unit is Unit.BULK else _few(meaning.unit)
        return _question(Ask.HOW_MANY, each, meaning.unit, choices)
    if isinstance(meaning, Content) and meaning.key == SLOW_RELEASE:
        return _share_or_points(each, meaning, limits_of(said).get("N", Content("N", n_pct)))
    return None


def _few(unit: Unit) -> tuple[Choice, ...]:
    return tuple(Choice(say(Packages(count, unit))) for count in (1, 2, 4))


def _share_or_points(each: Said, share: Content, nitrogen: Content) -> Question | None:
    """``12 % slow`` of 24 % N: a label states points, a caller often a share."""
    total, pct = nitrogen.low_pct, share.low_pct
    if not total or not pct or pct > total or not _IS_PLAIN_FIGURE.fullmatch(each.words):
        return None
    points = Content(SLOW_RELEASE, round(100 * pct / total, 4))
    choices = (Choice(say(points)), Choice(say(replace(share))))
    return _question(Ask.SLOW_N, each, SLOW_RELEASE, choices)


def _question(ask: Ask, said: Said, about: str, choices: tuple[Choice, ...] = ()) -> Question:
    return Question(ask, said.words, said.start, said.end, about, choices)
