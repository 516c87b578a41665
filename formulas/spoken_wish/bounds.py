"""Limits as they are said: at most 3, 3 to 3.5, between 3 and 3.5, 20 or more."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.figures import Figure, take_figure
from formulas.spoken_wish.vocabulary import (
    ABOUT,
    AT_LEAST,
    AT_MOST,
    LEAST_AFTER,
    MOST_AFTER,
    PERCENT,
)

_OF_A_PERCENT: Final = ("of a percent", "of one percent", "a percent", "of a per cent")


@dataclass(frozen=True, slots=True)
class Bounds:
    """``is_plain``: a figure alone, whose side may still follow behind its nutrient."""

    low: Figure | None = None
    high: Figure | None = None
    is_plain: bool = False
    is_about: bool = False
    is_exact: bool = False
    in_percent: bool = False

    @property
    def figures(self) -> tuple[Figure, ...]:
        return tuple(figure for figure in (self.low, self.high) if figure is not None)

    def with_side(self, *, is_most: bool) -> Bounds:
        """A plain figure as an upper or a lower limit."""
        if is_most:
            return replace(self, low=None, high=self.low, is_plain=False)
        return replace(self, is_plain=False)


def take_bounds(
    cursor: Cursor, may_go_on: Callable[[Cursor], bool] = lambda _: True
) -> Bounds | None:
    """One figure or a range with its sides.

    ``may_go_on`` looks at what follows the second of two sides: whether both are of one thing.
    """
    begin = cursor.at
    if cursor.take_phrase(*ABOUT):
        found = _plain(cursor)
        found = None if found is None else replace(found, is_about=True)
    elif cursor.take_phrase("exactly", "just"):
        found = _plain(cursor)
        found = None if found is None else replace(found, high=found.low, is_exact=True)
    elif cursor.take("between"):
        found = _range(cursor, "and")
    else:
        cursor.take_phrase("from")
        found = _sided(cursor, may_go_on) or _range(cursor, "-", "to") or _plain(cursor)
    if found is None:
        cursor.at = begin
        return None
    return side_behind(cursor, found)


def side_behind(cursor: Cursor, bounds: Bounds) -> Bounds:
    """The bounds with a side said behind the figure: ``3 max``, ``20 or more``."""
    begin = cursor.at
    if not bounds.is_plain or bounds.is_about:
        return bounds
    if cursor.take_phrase(*MOST_AFTER):
        changed = bounds.with_side(is_most=True)
    elif cursor.take_phrase(*LEAST_AFTER):
        changed = bounds.with_side(is_most=False)
    else:
        return bounds
    after = cursor.at
    if take_figure(cursor) or cursor.text == "$":
        # "potash 3, max 1 sulfur": the side belongs to what follows.
        cursor.at = begin
        return bounds
    cursor.at = after
    return changed


def take_percent(cursor: Cursor) -> bool:
    return bool(cursor.take_phrase(*_OF_A_PERCENT, *PERCENT))


def _plain(cursor: Cursor) -> Bounds | None:
    figure = take_figure(cursor)
    if figure is None:
        return None
    return Bounds(low=figure, is_plain=True, in_percent=take_percent(cursor))


def _range(cursor: Cursor, *between: str) -> Bounds | None:
    begin = cursor.at
    low = take_figure(cursor)
    in_percent = take_percent(cursor)
    if low is not None and cursor.take(*between):
        high = take_figure(cursor)
        if high is not None:
            return Bounds(low, high, in_percent=take_percent(cursor) or in_percent)
    cursor.at = begin
    return None


def _sided(cursor: Cursor, may_go_on: Callable[[Cursor], bool]) -> Bounds | None:
    first = _side(cursor)
    if first is None:
        return None
    begin = cursor.at
    cursor.take_any((",", "and", "but"))
    second = _side(cursor)
    if second is None or (first.low is None) == (second.low is None) or not may_go_on(cursor):
        cursor.at = begin
        return first
    return Bounds(
        first.low or second.low,
        first.high or second.high,
        in_percent=first.in_percent or second.in_percent,
    )


def _side(cursor: Cursor) -> Bounds | None:
    begin = cursor.at
    is_most = bool(cursor.take_phrase(*AT_MOST))
    if is_most or cursor.take_phrase(*AT_LEAST):
        figure = take_figure(cursor)
        if figure is not None:
            in_percent = take_percent(cursor)
            if is_most:
                return Bounds(high=figure, in_percent=in_percent)
            return Bounds(low=figure, in_percent=in_percent)
    cursor.at = begin
    return None
