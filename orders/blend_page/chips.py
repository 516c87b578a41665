"""What a line filled in, kept beside the fields so that it can be seen, changed and taken back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, urlencode

from django.http import QueryDict

#: The field that keeps them, one value each.
SAID: Final = "said"
_WORDS, _LABEL = "words", "label"
#: As many as a line of the longest kind could fill.
MOST_CHIPS: Final = 40


@dataclass(frozen=True, slots=True)
class Chip:
    """The words of a phrase, what they were taken for, and the fields it filled."""

    words: str
    label: str
    fields: tuple[tuple[str, str], ...]

    @property
    def field(self) -> str:
        """The field where it can be changed; empty if none stands on the page."""
        return next((name for name, value in self.fields if value), "")

    @property
    def written(self) -> str:
        """As one value of a form."""
        return urlencode([(_WORDS, self.words), (_LABEL, self.label), *self.fields])

    def stands_in(self, data: QueryDict) -> bool:
        """Whether its fields still hold what it filled in; typed anew they speak for themselves."""
        return all(
            value in data.getlist(name) or (not value and not data.get(name))
            for name, value in self.fields
        )

    def taken_back(self, data: QueryDict) -> None:
        """Its fields as on an untouched page."""
        for name, value in self.fields:
            data.setlist(name, [kept for kept in data.getlist(name) if kept != value])
            if not data.getlist(name):
                del data[name]


def chips_of(data: QueryDict) -> tuple[Chip, ...]:
    """The chips whose fields still hold what was said, each once, in the order they were said."""
    found = (_read(value) for value in data.getlist(SAID)[-MOST_CHIPS:])
    return tuple(dict.fromkeys(chip for chip in found if chip and chip.stands_in(data)))


def keep(data: QueryDict, chips: Iterable[Chip]) -> None:
    """Write them into the data; those of before that no longer hold are gone."""
    data.setlist(SAID, [chip.written for chip in chips])
    if not data.getlist(SAID):
        del data[SAID]


def _read(value: str) -> Chip | None:
    pairs = parse_qsl(value, keep_blank_values=True)
    told = dict(pairs[:2])
    if set(told) != {_WORDS, _LABEL}:
        return None
    return Chip(told[_WORDS], told[_LABEL], tuple(pairs[2:]))
