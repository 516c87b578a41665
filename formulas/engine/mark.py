"""How far a figure may be trusted: the mark that stands beside every published figure."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Final


class Mark(StrEnum):
    """The value stands in tables, files and sources; ``label`` is what a screen says."""

    VERIFIED = "verified"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common practice, no source"
    FROM_MEMORY = "from memory, unverified"
    SUPPLIER = "supplier"
    DEMO = "demo"

    @property
    def label(self) -> str:
        return _WORDS.get(self, self.value)


_WORDS: Final[Mapping[Mark, str]] = {
    Mark.VERIFIED: "verified in its source",
    Mark.SUPPLIER: "supplier's sheet",
    Mark.DEMO: "demo data",
}
