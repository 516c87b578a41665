"""Hazard classes a blend takes on from what is in it, by the cut-offs of the hazard rule.

29 CFR 1910.1200, Appendix A: a mixture is in a class as soon as an ingredient of that class reaches
its cut-off (toxic to reproduction, Table A.7.1), for eyes as soon as all such ingredients together
do (A.3.3). A screen by ingredients only: acid and alkali that neutralise each other in the batch
are left to the finished pH, and a competent person classifies.

By hand: 1 % of a borate stock of 10 % B is 0.1 % B, as boric acid 0.1 / 0.1748 = 0.57 %, above 0.1.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from formulas.engine.result import Finding, Severity

#: Decimal shares carried as floats reach their cut-off.
_NOISE_PCT: Final = 1e-9
_SCREEN: Final = "A screen by cut-off: a competent person classifies."


@dataclass(frozen=True, slots=True)
class HazardClass:
    """A class: the ``signal`` word, what it says, and from how many percent by weight of it.

    ``adds_up``: the ingredients of the class count together, else each on its own.
    """

    code: str
    signal: str
    words: str
    cut_off_pct: float
    adds_up: bool
    source: str


@dataclass(frozen=True, slots=True)
class HazardousPart:
    """An ingredient of such classes and where it is found: in stocks that carry all ``traits``.

    Its percent of a stock is ``times`` the content ``key`` of its analysis, or where nothing is
    stated at most ``most_pct``; then ``supposed`` says on what that rests.
    """

    name: str
    classes: tuple[str, ...]
    traits: frozenset[str]
    source: str
    key: str = ""
    times: float = 1.0
    most_pct: float | None = None
    supposed: str = ""


@dataclass(frozen=True, slots=True)
class MixtureTable:
    """All classes and all ingredients that are screened."""

    classes: tuple[HazardClass, ...]
    parts: tuple[HazardousPart, ...]


@dataclass(frozen=True, slots=True)
class Portion:
    """So many percent by weight of the blend, of a stock or of a heel without known traits."""

    pct: float
    analysis: Mapping[str, float]
    traits: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True)
class MixtureHazard:
    """A class the blend is in; ``is_certain`` unless a part of it is only supposed.

    ``found`` has the ingredients with their percent by weight of the blend.
    """

    hazard: HazardClass
    found: tuple[tuple[HazardousPart, float], ...]

    @property
    def is_certain(self) -> bool:
        return all(part.most_pct is None for part, _ in self.found)

    @property
    def sentence(self) -> str:
        """What a label says, without figures: the same for every load."""
        names = ", ".join(part.name for part, _ in self.found)
        return f"{self.hazard.signal.upper()}: {self.hazard.words}. Contains {names}."

    @property
    def sources(self) -> str:
        texts = (self.hazard.source, *(part.source for part, _ in self.found))
        return "; ".join(dict.fromkeys(texts))

    @property
    def finding(self) -> Finding:
        """A caution with its figures; only information where it rests on a supposition."""
        cut_off = f"{self.hazard.cut_off_pct:g} %"
        held = ", ".join(f"{part.name} {float(f'{pct:.2g}'):g} %" for part, pct in self.found)
        together = " together" if self.hazard.adds_up and len(self.found) > 1 else ""
        if self.is_certain:
            message = (
                f"{self.hazard.signal}: {self.hazard.words}. The blend holds {held}, from"
                f" {cut_off}{together} on it is in this class. {_SCREEN}"
            )
            return Finding("mixture_hazard", Severity.CAUTION, message, self.sources)
        why = " ".join(dict.fromkeys(part.supposed for part, _ in self.found if part.supposed))
        message = (
            f"The blend may be in a hazard class ({self.hazard.words}): it may hold as much as"
            f" {held}, the class begins at {cut_off}. {why}"
        )
        return Finding("mixture_hazard_open", Severity.INFO, message, self.sources)


def mixture_hazards(portions: Iterable[Portion], table: MixtureTable) -> tuple[MixtureHazard, ...]:
    """The classes whose cut-off the blend reaches, in the table's order, certain ones first.

    ``portions`` make up the blend. Where what is stated reaches a cut-off alone, nothing supposed
    is counted beside it.
    """
    blend = tuple(portions)
    held = [(part, _pct_of_blend(part, blend)) for part in table.parts]
    found = []
    for hazard in table.classes:
        of_class = [each for each in held if hazard.code in each[0].classes and each[1] > 0]
        stated = [each for each in of_class if each[0].most_pct is None]
        found += list(_reached(hazard, stated) or _reached(hazard, of_class))
    return tuple(sorted(found, key=lambda each: not each.is_certain))


def _reached(
    hazard: HazardClass, held: Sequence[tuple[HazardousPart, float]]
) -> tuple[MixtureHazard, ...]:
    least = hazard.cut_off_pct - _NOISE_PCT
    if hazard.adds_up:
        reaching = tuple(held) if sum(pct for _, pct in held) >= least else ()
    else:
        reaching = tuple(each for each in held if each[1] >= least)
    return (MixtureHazard(hazard, reaching),) if reaching else ()


def _pct_of_blend(part: HazardousPart, blend: Sequence[Portion]) -> float:
    return sum(_in_stock(part, blend))


def _in_stock(part: HazardousPart, blend: Sequence[Portion]) -> Iterator[float]:
    for portion in blend:
        if part.traits <= portion.traits:
            content = part.most_pct
            if content is None:
                content = portion.analysis.get(part.key, 0.0) * part.times
            yield portion.pct / 100.0 * content
