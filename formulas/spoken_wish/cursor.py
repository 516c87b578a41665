"""A place among the tokens of a line, moved forward by what is recognised there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from formulas.spoken_wish.tokens import Kind, Token


@lru_cache(maxsize=256)
def _by_first_word(phrases: tuple[str, ...]) -> Mapping[str, list[tuple[str, tuple[str, ...]]]]:
    """Phrases by their first word, each with all its words; in their order."""
    found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for phrase in phrases:
        words = tuple(phrase.split())
        found.setdefault(words[0], []).append((phrase, words))
    return found


class Cursor:
    """Every ``take`` moves on only if it finds what it looks for."""

    def __init__(self, tokens: tuple[Token, ...]) -> None:
        self.tokens = tokens
        self.at = 0

    def peek(self, ahead: int = 0) -> Token | None:
        place = self.at + ahead
        return self.tokens[place] if place < len(self.tokens) else None

    @property
    def text(self) -> str:
        """The text of the token here; empty at the end."""
        token = self.peek()
        return "" if token is None else token.text

    def take_kind(self, kind: Kind) -> Token | None:
        token = self.peek()
        if token is None or token.kind is not kind:
            return None
        self.at += 1
        return token

    def take(self, *words: str) -> bool:
        """One token that is any of ``words``."""
        if self.text not in words or not self.text:
            return False
        self.at += 1
        return True

    def take_phrase(self, *phrases: str) -> str:
        """The first of ``phrases`` (words with spaces between) that stands here; else ""."""
        for phrase, words in _by_first_word(phrases).get(self.text, ()):
            here = self.tokens[self.at : self.at + len(words)]
            if tuple(token.text for token in here) == words:
                self.at += len(words)
                return phrase
        return ""

    def take_any(self, words: Iterable[str]) -> None:
        """All tokens from here that are among ``words``."""
        while self.text and self.text in words:
            self.at += 1
