"""The table of lines and what they mean to a person, read from ``lines.txt``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

_TABLE = Path(__file__).with_name("lines.txt")


@dataclass(frozen=True, slots=True)
class PhoneLine:
    """A line, what it asks, the words nobody can know, and what has to be asked back."""

    line: str
    asks: frozenset[str]
    unclear: tuple[str, ...]
    questions: tuple[str, ...]


def phone_lines() -> list[PhoneLine]:
    found = []
    for row in _TABLE.read_text(encoding="utf-8").splitlines():
        if row.startswith("#") or not row.strip():
            continue
        line, _, meaning = row.partition(" => ")
        words = meaning.split()
        found.append(
            PhoneLine(
                line=line,
                asks=frozenset(word for word in words if word[0] not in "!?"),
                unclear=tuple(word[1:].replace("_", " ") for word in words if word[0] == "!"),
                questions=tuple(word[1:] for word in words if word[0] == "?"),
            )
        )
    return found
