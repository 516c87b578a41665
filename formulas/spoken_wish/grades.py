"""Grades: ``24-0-3``, ``24-0-3-2S``, and three numbers that are most likely one."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from formulas.spoken_wish.amounts import is_amount
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.figures import Figure, take_figure
from formulas.spoken_wish.meanings import Ask, Choice, Content
from formulas.spoken_wish.names import is_subject, take_content
from formulas.spoken_wish.phrases import Asked, Found, Senseless
from formulas.spoken_wish.saying import number
from formulas.spoken_wish.tokens import Kind
from formulas.spoken_wish.vocabulary import GALLONS, PACKAGES, PERCENT, POUNDS, TONS

_OF_A_GRADE: Final = ("N", "P2O5", "K2O")
#: "Twenty-four, oh, three".
_ZERO: Final = Figure(Fraction(0))
_UNITS: Final = frozenset({*PACKAGES, *GALLONS, *POUNDS, *TONS, *PERCENT, "degrees", "acres", "x"})


def take_grade(cursor: Cursor) -> Found | None:
    """A grade; zeros ask for nothing. A comma in one may be a decimal point."""
    figures = _joined(cursor)
    if len(figures) < len(_OF_A_GRADE):
        return None
    contents = list(zip(_OF_A_GRADE, figures, strict=False))
    while cursor.text == "-":
        cursor.at += 1
        figure = _typed(cursor)
        key = take_content(cursor)
        if figure is None or not key:
            return Senseless()
        contents.append((key, figure))
    if any(figure.with_comma for _, figure in contents):
        return Asked(Ask.DECIMAL, "N", (Choice(_with_points(contents)),))
    if sum(figure.number for _, figure in contents) > 100:
        return Senseless()
    return tuple(Content(key, figure.number) for key, figure in contents if figure.value)


def bare_figures(cursor: Cursor) -> Found | None:
    """Three numbers in a row, ``24 0 3``, that belong to nothing else."""
    figures = []
    for place in range(len(_OF_A_GRADE)):
        figure = _ZERO if place and cursor.take("oh", "o") else take_figure(cursor)
        if figure is None or figure.is_part or figure.with_comma:
            return None
        figures.append(figure)
        if place < len(_OF_A_GRADE) - 1:
            cursor.take(",")
    begin = cursor.at
    if cursor.text in _UNITS or is_subject(cursor) or is_amount(cursor) or take_figure(cursor):
        return None
    cursor.at = begin
    words = "-".join(number(figure.number) for figure in figures)
    return Asked(Ask.GRADE, "N", (Choice(words),))


def is_grade(cursor: Cursor) -> bool:
    """Whether one stands here; the cursor stays."""
    begin = cursor.at
    found = take_grade(cursor)
    cursor.at = begin
    return found is not None


def _joined(cursor: Cursor) -> list[Figure]:
    """The first three numbers with dashes between."""
    found: list[Figure] = []
    while len(found) < len(_OF_A_GRADE):
        if found and not cursor.take("-"):
            break
        begin = cursor.at
        figure = _typed(cursor)
        if figure is None:
            break
        if len(found) == len(_OF_A_GRADE) - 1 and _goes_on_apart(cursor, begin):
            # "24-0-3 1/2 iron", "24-0-3 and a half tote": the grade ends with its number.
            cursor.at = begin + 1
            figure = Figure(Fraction("0" + cursor.tokens[begin].text))
        found.append(figure)
    return found


def _goes_on_apart(cursor: Cursor, begin: int) -> bool:
    """Whether the figure from ``begin`` was joined from what was typed with a space between."""
    joined = cursor.tokens[begin + 1 : cursor.at]
    return bool(joined) and not all(token.is_glued for token in joined)


def _typed(cursor: Cursor) -> Figure | None:
    token = cursor.peek()
    is_typed = token is not None and token.kind in {Kind.NUMBER, Kind.COMMA}
    return take_figure(cursor) if is_typed else None


def _with_points(contents: list[tuple[str, Figure]]) -> str:
    figures = [figure.with_point if figure.with_comma else figure for _, figure in contents]
    words = "-".join(number(figure.number) for figure in figures[: len(_OF_A_GRADE)])
    beside = contents[len(_OF_A_GRADE) :]
    return words + "".join(
        f"-{number(figure.number)}{key}"
        for (key, _), figure in zip(beside, figures[len(_OF_A_GRADE) :], strict=True)
    )
