"""A wish said in one line, as on the phone: ``24-0-3 half slow, Fe 0.1, 4 totes``.

Understood: a grade (``24-0-3``, zeros ask for nothing), a figure with a nutrient before or
after it (``0.1 Fe``, ``iron 0.1``), a range (``3 to 3.5 potash``), ``at most`` or ``max`` before
a figure, a slow-release share (``50 slow``, ``half slow``) and a number of packages (``4 totes``).
What is not understood is named; nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from formulas.engine.composition import NUTRIENTS
from orders.blend_page.fields import wish_field

_SLOW: Final = "slow"
_NAMES: Final[Mapping[str, str]] = {
    **{key.lower(): key for key in NUTRIENTS},
    "nitrogen": "N", "p": "P2O5", "phosphate": "P2O5", "phosphorus": "P2O5",
    "k": "K2O", "potash": "K2O", "potassium": "K2O",
    "calcium": "Ca", "magnesium": "Mg", "sulfur": "S", "sulphur": "S", "boron": "B",
    "chlorine": "Cl", "copper": "Cu", "iron": "Fe", "manganese": "Mn", "molybdenum": "Mo",
    "zinc": "Zn", "humic": "humic_acid", "fulvic": "fulvic_acid", "seaweed": "seaweed_extract",
    "nbpt": "NBPT", "dcd": "DCD", "slow": _SLOW, "srn": _SLOW,
}  # fmt: skip
_PACKAGES: Final = frozenset({"tote", "totes", "drum", "drums", "gal", "gallon", "gallons"})
#: Words that carry no wish of their own.
_FILLERS: Final = frozenset(
    {"and", "with", "of", "release", "percent", "at", "least", "min", "solution", "acid", "extract"}
)
_MOST: Final = frozenset({"max", "most"})
_NUMBER: Final = r"\d+(?:\.\d+)?|\.\d+"
_GRADE: Final = re.compile(rf"({_NUMBER})-({_NUMBER})-({_NUMBER})\Z")
_RANGE: Final = re.compile(rf"({_NUMBER})-({_NUMBER})\Z")
_FIGURE: Final = re.compile(rf"({_NUMBER})([a-z][a-z0-9]*)?\Z")


@dataclass(slots=True)
class QuickEntry:
    """Fields to fill, and the words that were not understood."""

    fields: dict[str, str] = field(default_factory=dict)
    unclear: list[str] = field(default_factory=list)


def read_entry(line: str) -> QuickEntry:
    """Read one line; the words stand in any order, a figure belongs to its neighbour.

    >>> read_entry("24-0-3 half slow, Fe 0.1, 4 totes").fields
    {'N_min': '24', 'K2O_min': '3', 'slow_min': '50', 'Fe_min': '0.1', 'quantity': '4'}
    """
    reader = _Reader()
    text = re.sub(r"\bhalf(?=\s+(?:of\s+it\s+)?slow)", "50", line.lower())
    text = re.sub(rf"(?<=\d)\s*(?:to|–)\s*(?={_NUMBER})", "-", text)
    for word in re.sub(r"[,;%]+", " ", text).split():
        reader.read(word)
    reader.give_up_waiting()
    return reader.entry


class _Reader:
    """Word by word: a figure waits for its nutrient, or a nutrient for its figure."""

    def __init__(self) -> None:
        self.entry = QuickEntry()
        self.waiting = ""
        self.subject = ""
        self.figures: tuple[str, str] | None = None
        self.at_most = False

    def read(self, word: str) -> None:
        subject = "quantity" if word in _PACKAGES else _NAMES.get(word)
        if subject:
            self._hear_subject(subject, word)
        elif word in _MOST:
            self.at_most = True
        elif word not in _FILLERS and not self._hear_figure(word):
            self.entry.unclear.append(word)

    def give_up_waiting(self) -> None:
        """What still waits has found no neighbour."""
        if self.waiting:
            self.entry.unclear.append(self.waiting)
        self.waiting, self.subject, self.figures = "", "", None

    def _hear_figure(self, word: str) -> bool:
        if grade := _GRADE.match(word):
            for key, figure in zip(("N", "P2O5", "K2O"), grade.groups(), strict=True):
                if float(figure):
                    self.entry.fields[wish_field(key, "min")] = figure
            return True
        if span := _RANGE.match(word):
            self._hear_figures((span.group(1), span.group(2)), word)
            return True
        found = _FIGURE.match(word)
        if not found or (found.group(2) and found.group(2) not in _NAMES):
            return False
        self._hear_figures(("", found.group(1)) if self.at_most else (found.group(1), ""), word)
        if found.group(2):
            self._hear_subject(_NAMES[found.group(2)], word)
        return True

    def _hear_figures(self, figures: tuple[str, str], word: str) -> None:
        self.at_most = False
        if self.subject:
            self._settle(self.subject, figures)
        else:
            self.give_up_waiting()
            self.figures, self.waiting = figures, word

    def _hear_subject(self, subject: str, word: str) -> None:
        if self.figures:
            self._settle(subject, self.figures)
        else:
            self.give_up_waiting()
            self.subject, self.waiting = subject, word

    def _settle(self, subject: str, figures: tuple[str, str]) -> None:
        self.waiting, self.subject, self.figures = "", "", None
        if subject == "quantity":
            self.entry.fields["quantity"] = figures[0] or figures[1]
            return
        for side, figure in zip(("min", "max"), figures, strict=True):
            if figure:
                self.entry.fields[wish_field(subject, side)] = figure
