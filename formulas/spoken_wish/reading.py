"""A line read: phrase by phrase, each by the first rule that knows it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from formulas.spoken_wish.amounts import AMOUNT_RULES
from formulas.spoken_wish.bounds import take_bounds
from formulas.spoken_wish.characters import plain_line
from formulas.spoken_wish.contents import CONTENT_RULES
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.meanings import Question, Said, Unclear
from formulas.spoken_wish.phrases import Asked, Found, Rule, Senseless, tried
from formulas.spoken_wish.terms import TERM_RULES, none_of
from formulas.spoken_wish.together import agreed
from formulas.spoken_wish.tokens import Kind, tokens_of
from formulas.spoken_wish.vocabulary import (
    GRADE_NAMES,
    MEASURES,
    OF_PRICES,
    PER,
    QUALIFIERS,
    SEPARATORS,
    SMALL_PHRASES,
    SMALL_TALK,
    TIMES,
)


@dataclass(frozen=True, slots=True)
class Heard:
    """A line and what became of each of its phrases, in the order they were said."""

    line: str
    said: tuple[Said, ...] = ()
    questions: tuple[Question, ...] = ()
    unclear: tuple[Unclear, ...] = ()

    @property
    def is_settled(self) -> bool:
        """Whether every figure has its meaning and nothing has to be asked: it may be priced."""
        return not self.questions and not any(each.has_figure for each in self.unclear)

    @property
    def is_clear(self) -> bool:
        """Whether every word was understood."""
        return not self.open_points

    @property
    def open_points(self) -> tuple[Question | Unclear, ...]:
        """Questions and unclear words in the order of the line."""
        return tuple(sorted((*self.questions, *self.unclear), key=lambda each: each.start))


def read_line(line: str, codes: Iterable[str] = (), n_pct: float | None = None) -> Heard:
    """What a line says; BadInput (field ``line``) for one that is too long or no plain text.

    ``codes`` are those of the stocks that may be named ("no KCL138"); ``n_pct`` is the total N
    that is asked for already, where the line goes on from there.

    >>> heard = read_line("24-0-3 half slow, some iron")
    >>> [said.words for said in heard.said], heard.questions[0].words
    (['24-0-3', '24-0-3', 'half slow'], 'some iron')
    """
    plain = plain_line(line)
    cursor = Cursor(tokens_of(plain))
    rules = (TERM_RULES[0], none_of(codes), *TERM_RULES[1:], *AMOUNT_RULES, *CONTENT_RULES)
    said: list[Said] = []
    asked: list[Question] = []
    unclear: list[Unclear] = []
    for found, first, last in _phrases(cursor, rules):
        start, end = plain.span(cursor.tokens[first].start, cursor.tokens[last].end)
        words = line[start:end]
        if isinstance(found, Asked):
            asked.append(Question(found.ask, words, start, end, found.about, found.choices))
        elif isinstance(found, Senseless):
            unclear.append(Unclear(words, start, end, found.has_figure))
        else:
            said += [Said(meaning, words, start, end) for meaning in found]
    kept, more = agreed(said, n_pct)
    questions = sorted((*asked, *more), key=lambda each: each.start)
    return Heard(line, tuple(kept), tuple(questions), tuple(unclear))


def _phrases(cursor: Cursor, rules: tuple[Rule, ...]) -> Iterator[tuple[Found, int, int]]:
    """Each phrase with its first and last token; small talk is passed over."""
    while cursor.peek() is not None:
        if cursor.take_phrase(*GRADE_NAMES):
            continue
        first = cursor.at
        found = next((found for rule in rules if (found := tried(cursor, rule)) is not None), None)
        if found is None:
            if cursor.take_phrase(*SMALL_PHRASES) or cursor.take(*SMALL_TALK, *SEPARATORS):
                continue
            found = _unknown(cursor)
        yield found, first, cursor.at - 1


def _unknown(cursor: Cursor) -> Senseless:
    """A number that belongs to nothing, or a word nobody knows."""
    sign = cursor.take("-")
    if take_bounds(cursor) is not None or sign:
        return Senseless()
    token = cursor.tokens[cursor.at]
    cursor.at += 1
    return Senseless(has_figure=token.kind is not Kind.WORD or _moves_a_figure(cursor, token.text))


def _moves_a_figure(cursor: Cursor, word: str) -> bool:
    """Whether a word just passed changes what a number beside it means."""
    if word.endswith("n't") or word in QUALIFIERS | MEASURES | OF_PRICES:
        return True
    before = cursor.tokens[cursor.at - 2].text if cursor.at > 1 else ""
    return word in TIMES and before in PER
