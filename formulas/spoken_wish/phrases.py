"""What a rule of the grammar makes of the words it has taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from formulas.spoken_wish.cursor import Cursor
from formulas.spoken_wish.meanings import Ask, Choice, Meaning


@dataclass(frozen=True, slots=True)
class Asked:
    """The words have to be asked about."""

    ask: Ask
    about: str = ""
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Senseless:
    """The words belong together and mean nothing; ``has_figure`` if a number hangs on them."""

    has_figure: bool = True


Found: TypeAlias = tuple[Meaning, ...] | Asked | Senseless
#: Takes a phrase and says what it is; None where it is none of this rule's, whatever was taken.
Rule: TypeAlias = Callable[[Cursor], Found | None]


def tried(cursor: Cursor, rule: Rule) -> Found | None:
    """What a rule finds here; without a find the cursor stays."""
    begin = cursor.at
    found = rule(cursor)
    if found is None or cursor.at == begin:
        cursor.at = begin
        return None
    return found
