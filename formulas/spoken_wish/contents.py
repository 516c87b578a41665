"""Grades, nutrients and the slow-release share."""

from __future__ import annotations

from typing import Final

from formulas.engine.composition import SLOW_RELEASE
from formulas.spoken_wish.amounts import is_amount
from formulas.spoken_wish.bounds import Bounds, side_behind, take_bounds
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.figures import EVERYTHING, Figure
from formulas.spoken_wish.grades import bare_figures, is_grade, take_grade
from formulas.spoken_wish.levels import micro_packages, usual_levels
from formulas.spoken_wish.meanings import Ask, Choice, Content
from formulas.spoken_wish.names import is_subject, take_content, take_slow, take_subject
from formulas.spoken_wish.phrases import Asked, Found, Rule, Senseless
from formulas.spoken_wish.saying import say
from formulas.spoken_wish.tokens import Kind
from formulas.spoken_wish.vocabulary import (
    AT_LEAST,
    AT_MOST,
    MICROS,
    SOME,
)

#: Between a share and what has it; without slow release behind it such a share is no wish.
_OF_THE_NITROGEN: Final = (
    "of it", "of that", "of the total nitrogen", "of the total n", "of the nitrogen", "of the n",
    "of total nitrogen", "of total n", "the nitrogen", "the n",
)  # fmt: skip
_OF_NITROGEN: Final = ("of nitrogen", "of n")
_WHOLE: Final = (
    "all of it", "all of the nitrogen", "all of the n", "all the nitrogen", "all the n", "all",
)  # fmt: skip
_IS: Final = frozenset({"as", "is", "in", "being", "be", "should", "to", "from"})
_LINKS: Final = frozenset({"at", "of", ":", "=", "is", "to", "be"})
_ALL_PCT: Final = 100.0


def figure_and_content(cursor: Cursor) -> Found | None:
    """``24 % nitrogen``, ``half of it slow release``, ``3 potash max``."""
    bounds = _whole(cursor) or take_bounds(cursor)
    if bounds is None:
        return None
    begin = cursor.at
    is_share = bool(cursor.take_phrase(*_OF_THE_NITROGEN))
    of_nitrogen = is_share or bool(cursor.take_phrase(*_OF_NITROGEN))
    cursor.take_any(_IS)
    if take_slow(cursor):
        return _slow_share(side_behind(cursor, bounds), of_nitrogen=of_nitrogen)
    if is_share:
        return Senseless()
    cursor.at = begin
    cursor.take_phrase("of the", "of", "worth of")
    key = take_content(cursor)
    return _content(key, side_behind(cursor, bounds)) if key else None


def content_and_figure(cursor: Cursor) -> Found | None:
    """``iron 0.1``, ``potash between 3 and 3.5``; a content alone has to be asked about."""
    is_most = bool(cursor.take_phrase(*AT_MOST))
    is_least = not is_most and bool(cursor.take_phrase(*AT_LEAST))
    key = take_subject(cursor)
    if not key:
        return None
    after = cursor.at
    bounds = _bounds_of_one(cursor)
    if bounds is None:
        cursor.take_any(_LINKS)
        bounds = _bounds_of_one(cursor)
    if bounds is None:
        cursor.at = after
        return Asked(Ask.HOW_MUCH, key, usual_levels(key))
    if is_most or is_least:
        if not bounds.is_plain:
            return Senseless()
        bounds = bounds.with_side(is_most=is_most)
    if key == SLOW_RELEASE:
        return _slow_share(bounds, of_nitrogen=_says_of_nitrogen(cursor))
    return _content(key, bounds)


def _bounds_of_one(cursor: Cursor) -> Bounds | None:
    """Bounds that belong to the content before them and to nothing behind them."""
    if is_amount(cursor) or is_grade(cursor):
        return None
    return take_bounds(cursor, lambda here: not is_subject(here))


def _says_of_nitrogen(cursor: Cursor) -> bool:
    return bool(cursor.take_phrase(*_OF_THE_NITROGEN, *_OF_NITROGEN))


def content_without_figure(cursor: Cursor) -> Found | None:
    """``a little potash``, ``with humic``, ``mostly slow``."""
    if not cursor.take_phrase(*SOME):
        return None
    cursor.take_any(("of", "the", "some", "a", "good"))
    if not is_subject(cursor):
        return None
    found = content_and_figure(cursor)
    # "with iron 0.1" has its figure: the first words were small talk.
    return found if isinstance(found, Asked) and found.ask is Ask.HOW_MUCH else None


def micros(cursor: Cursor) -> Found | None:
    """``some micros``: which, and how much of each."""
    cursor.take_phrase(*SOME)
    take_bounds(cursor)
    cursor.take_any(("of", "the"))
    if not cursor.take_phrase(*MICROS):
        return None
    return Asked(Ask.WHICH_MICROS, choices=micro_packages())


def two_shares(cursor: Cursor) -> Found | None:
    """``60/40``: which of the two is slow release?"""
    cursor.take_any(("a",))
    token = cursor.take_kind(Kind.RATIO)
    if token is None or token.text.count("/") != 1:
        return None
    shares = [int(part) for part in token.text.split("/")]
    if sum(shares) != _ALL_PCT:
        return None
    take_slow(cursor)
    # 50/50 leaves no doubt which, but whether it is of slow release at all.
    told = sorted(set(shares), reverse=True)
    return Asked(Ask.SLOW_SHARE, SLOW_RELEASE, tuple(_choice(SLOW_RELEASE, pct) for pct in told))


def _whole(cursor: Cursor) -> Bounds | None:
    """``all of it``, where slow release follows."""
    begin = cursor.at
    if cursor.take_phrase(*_WHOLE):
        after = cursor.at
        cursor.take_any(_IS)
        if take_slow(cursor):
            cursor.at = after
            return Bounds(low=EVERYTHING, is_plain=True)
    cursor.at = begin
    return None


def _content(key: str, bounds: Bounds) -> Found:
    if asked := _comma(key, bounds):
        return asked
    if any(figure.is_part for figure in bounds.figures) and not bounds.in_percent:
        least = bounds.figures[0].number
        return Asked(Ask.FRACTION, key, (_choice(key, least),))
    return _limits(key, bounds, *(None if each is None else each.number for each in _ends(bounds)))


def _slow_share(bounds: Bounds, *, of_nitrogen: bool) -> Found:
    if asked := _comma(SLOW_RELEASE, bounds):
        return asked
    figures = bounds.figures
    if not of_nitrogen and any(not each.is_part and 0 < each.value < 1 for each in figures):
        least = figures[0]
        return Asked(
            Ask.FRACTION,
            SLOW_RELEASE,
            (_choice(SLOW_RELEASE, least.pct), _choice(SLOW_RELEASE, least.number)),
        )
    return _limits(SLOW_RELEASE, bounds, *(_share(each, bounds) for each in _ends(bounds)))


def _share(figure: Figure | None, bounds: Bounds) -> float | None:
    if figure is None:
        return None
    return figure.pct if figure.is_part and not bounds.in_percent else figure.number


def _ends(bounds: Bounds) -> tuple[Figure | None, Figure | None]:
    return bounds.low, bounds.high


def _comma(key: str, bounds: Bounds) -> Asked | None:
    """A comma inside a percentage is a decimal point or a slip."""
    with_comma = [figure for figure in bounds.figures if figure.with_comma]
    if not with_comma:
        return None
    return Asked(Ask.DECIMAL, key, (_choice(key, with_comma[0].with_point.number),))


def _limits(key: str, bounds: Bounds, low: float | None, high: float | None) -> Found:
    if any(figure is not None and figure > _ALL_PCT for figure in (low, high)):
        return Senseless()
    if low is not None and high is not None and low >= high and not bounds.is_exact:
        return Senseless()
    if bounds.is_about and low:
        words = (say(Content(key, low)), say(Content(key, None, low)))
        return Asked(Ask.ABOUT, key, tuple(Choice(each) for each in words))
    if low == 0 and high is None:
        # Nothing of it is wanted; "at least nothing" is no wish.
        return (Content(key, high_pct=0.0),) if bounds.is_plain else Senseless()
    # "0 to 3" has no lower end; "0 and no more" is none of it.
    return (Content(key, low or None, high),)


def _choice(key: str, pct: float) -> Choice:
    return Choice(say(Content(key, pct)))


CONTENT_RULES: Final[tuple[Rule, ...]] = (
    take_grade, micros, figure_and_content, content_without_figure, content_and_figure,
    two_shares, bare_figures,
)  # fmt: skip
