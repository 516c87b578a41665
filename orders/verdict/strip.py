"""The strip: burn, cold, law, stock and jars, each a standing and a sentence, worst first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, IntEnum
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Subject(Enum):
    """What is judged; the value names its evidence on a page."""

    MIX = "mix"
    BURN = "burn"
    COLD = "cold"
    LAW = "law"
    STOCK = "stock"
    TESTED = "tested"


class Standing(IntEnum):
    """Worst first. What is not known is no caution, and never clear."""

    STOP = 0
    CAUTION = 1
    UNKNOWN = 2
    CLEAR = 3


_TITLES: Final[dict[Subject, Promise]] = {
    Subject.MIX: _("Mixing"),
    Subject.BURN: _("Burn"),
    Subject.COLD: _("Cold"),
    Subject.LAW: _("Law"),
    Subject.STOCK: _("Stock on hand"),
    Subject.TESTED: _("Jar test"),
}
_WORDS: Final[dict[Standing, Promise]] = {
    Standing.STOP: _("Stop"),
    Standing.CAUTION: _("Caution"),
    Standing.UNKNOWN: _("Not known"),
    Standing.CLEAR: _("Clear"),
}


@dataclass(frozen=True, slots=True)
class StripResult:
    """One result; ``sentence`` says why, or what is missing."""

    subject: Subject
    standing: Standing
    sentence: str

    @property
    def title(self) -> str:
        return str(_TITLES[self.subject])

    @property
    def word(self) -> str:
        """The standing in a word, to stand beside its colour and sign."""
        return str(_WORDS[self.standing])

    @property
    def slug(self) -> str:
        return self.standing.name.lower()


@dataclass(frozen=True, slots=True)
class Strip:
    """All results of one blend, worst first."""

    results: tuple[StripResult, ...]

    @classmethod
    def of(cls, results: Iterable[StripResult]) -> Strip:
        return cls(tuple(sorted(results, key=lambda result: result.standing)))

    @property
    def stops(self) -> tuple[StripResult, ...]:
        return tuple(result for result in self.results if result.standing is Standing.STOP)

    @property
    def worst(self) -> StripResult | None:
        """The first stop or caution; None where there is neither."""
        warned = (each for each in self.results if each.standing <= Standing.CAUTION)
        return next(warned, None)

    @property
    def is_stopped(self) -> bool:
        return bool(self.stops)
