"""What a line says beside contents and amounts: none of it, law, place, price, low volume."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Final

from blendshop.money import money
from formulas.spoken_wish.characters import plain_line
from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.figures import take_figure
from formulas.spoken_wish.levels import LOW_VOLUME_GAL_PER_1000SQFT
from formulas.spoken_wish.meanings import (
    Ask,
    Choice,
    Content,
    Delivered,
    LegalWhereSprayed,
    Meaning,
    PriceAtMost,
    SprayedIn,
    SprayVolume,
    Without,
)
from formulas.spoken_wish.names import take_subject
from formulas.spoken_wish.phrases import Asked, Found, Rule, Senseless
from formulas.spoken_wish.saying import say
from formulas.spoken_wish.sources import SOURCES
from formulas.spoken_wish.states import take_state
from formulas.spoken_wish.tokens import Kind, tokens_of
from formulas.spoken_wish.vocabulary import (
    AT_LEAST,
    AT_MOST,
    GALLONS,
    MICRO_KEYS,
    MICROS,
    NONE_OF,
    PACKAGES,
    POUNDS,
    TONS,
)

#: Behind a state: a ZIP code, which says nothing of the blend.
_ZIP: Final = re.compile(r"\d{5}")
_UNITS: Final = frozenset({*GALLONS, *POUNDS, *TONS, *PACKAGES})
_LOW_VOLUME: Final = ("low volume", "ultra low volume", "ride on", "rideon")
_MACHINE: Final = frozenset(
    {"ride", "rideon", "on", "sprayer", "spreader", "machine", "rig", "applicator"}
)
_PER: Final = ("/", "a", "per", "an", "each", "for a", "by the")


def none_of(codes: Iterable[str]) -> Rule:
    """``no phosphorus``, ``urea-free``, ``without UAN``; ``codes`` are those of the stocks."""
    named = {name: name for name in SOURCES} | {_in_words(code): code for code in codes}
    sources = dict(sorted(named.items(), key=lambda item: len(item[0]), reverse=True))

    def rule(cursor: Cursor) -> Found | None:
        if not cursor.take_phrase(*NONE_OF, "leave out", "exclude"):
            unwanted = _unwanted(cursor, sources)
            return unwanted if unwanted and cursor.take("free") else None
        found = _unwanted(cursor, sources)
        while found and cursor.text in ("or", "nor"):
            begin = cursor.at
            cursor.at += 1
            more = _unwanted(cursor, sources)
            if not more:
                cursor.at = begin
                break
            found = (*found, *more)
        return found or None

    return rule


def _in_words(code: str) -> str:
    """The code of a stock as a line is cut: ``KCL138`` is "kcl 138"."""
    return " ".join(token.text for token in tokens_of(plain_line(code)))


def _unwanted(cursor: Cursor, sources: Mapping[str, str]) -> tuple[Meaning, ...]:
    if cursor.take_phrase(*MICROS):
        return tuple(Content(key, high_pct=0.0) for key in MICRO_KEYS)
    # "Urea nitrogen" is a content, "urea" a source.
    key = take_subject(cursor)
    if key:
        return (Content(key, high_pct=0.0),)
    source = cursor.take_phrase(*sources)
    return (Without(sources[source]),) if source else ()


def legal(cursor: Cursor) -> Found | None:
    """``legal where I spray``."""
    if not cursor.take("legal", "legally"):
        return None
    if cursor.take("where", "wherever"):
        cursor.take_any(("i", "we", "he", "she", "they", "you", "it's", "it", "is", "am", "are"))
        cursor.take("spray", "sprays", "spraying", "sprayed")
    return (LegalWhereSprayed(),)


def low_volume(cursor: Cursor) -> Found | None:
    """A low-volume machine: a spray volume is assumed, and said to be."""
    if not cursor.take_phrase(*_LOW_VOLUME):
        return None
    cursor.take_any(_MACHINE)
    return (SprayVolume(LOW_VOLUME_GAL_PER_1000SQFT, is_assumed=True),)


def state(cursor: Cursor) -> Found | None:
    code = take_state(cursor)
    if not code:
        return None
    begin = cursor.at
    token = cursor.take_kind(Kind.NUMBER)
    if token is None or not _ZIP.fullmatch(token.text) or cursor.text in _UNITS:
        cursor.at = begin
    return (SprayedIn(code),)


def delivered(cursor: Cursor) -> Found | None:
    return (Delivered(),) if cursor.take("delivered", "delivery") else None


def price(cursor: Cursor) -> Found | None:
    """``under $8 a gallon``: a price not to be exceeded."""
    is_least = bool(cursor.take_phrase(*AT_LEAST))
    is_most = not is_least and bool(cursor.take_phrase(*AT_MOST))
    has_sign = cursor.take("$")
    figure = take_figure(cursor)
    if figure is None:
        return Senseless() if has_sign else None
    has_sign = has_sign or cursor.take("dollars", "dollar", "bucks", "usd", "$")
    if not has_sign and not (is_most and _is_per(cursor)):
        return None
    if is_least or figure.is_unsure:
        return Senseless()
    dollars = money(Decimal(repr(figure.number)))
    begin = cursor.at
    if cursor.take_phrase(*_PER) and (cursor.text in GALLONS or cursor.text in PACKAGES):
        word = cursor.text
        cursor.at += 1
        return (PriceAtMost(dollars, "gal" if word in GALLONS else PACKAGES[word].value),)
    cursor.at = begin
    pers = ("gal", "tote")
    return Asked(Ask.PRICE_PER, "", tuple(Choice(say(PriceAtMost(dollars, per))) for per in pers))


def _is_per(cursor: Cursor) -> bool:
    """Whether ``a gallon``, ``per tote`` stands here; the cursor stays."""
    begin = cursor.at
    cursor.take_phrase(*_PER)
    found = cursor.at > begin and (cursor.text in GALLONS or cursor.text in PACKAGES)
    cursor.at = begin
    return found


TERM_RULES: Final[tuple[Rule, ...]] = (price, legal, low_volume, state, delivered)
