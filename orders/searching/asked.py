"""What somebody typed into the search, and which numbers it may stand for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

#: Longer than any number, name or reference.
LONGEST: Final = 80
#: Running numbers without their letter and year are looked for in this many years.
_YEARS: Final = 3
_RUNNING: Final = re.compile(r"(?:(\d{4})-)?(\d{1,6})")
_GRADE: Final = re.compile(r"\d{1,2}(?:\.\d+)?(?:-\d{1,2}(?:\.\d+)?){2}")


@dataclass(frozen=True, slots=True)
class Asked:
    """The words as typed, without what stands around them; ``year`` is the current one."""

    text: str
    year: int

    @property
    def spellings(self) -> tuple[str, ...]:
        """As typed and in capitals: we give out capitals, a scanner may be set to small letters."""
        return tuple(dict.fromkeys((self.text, self.text.upper())))

    @property
    def may_be_number(self) -> bool:
        """Whether a number, code or serial can begin like this."""
        return any(sign.isdigit() for sign in self.text)

    @property
    def grade(self) -> str:
        """The text where it is written like a grade, 24-0-3; empty otherwise."""
        return self.text if _GRADE.fullmatch(self.text) else ""

    def running(self, prefix: str) -> tuple[str, ...]:
        """Full numbers of a series that ``42`` or ``2026-42`` stand for, this year's first."""
        found = _RUNNING.fullmatch(self.text)
        if found is None:
            return ()
        year, last = found.groups()
        years: Iterable[object] = [year] if year else range(self.year, self.year - _YEARS, -1)
        return tuple(f"{prefix}-{each}-{int(last):04d}" for each in years)
