"""Whose choice of language and units holds, and writing in it.

A page is written in its reader's choice, a mail or paper to a customer in the company's, a mail to
one person in that person's. What is kept for the plant (events, notices, frozen records) stays in
the house's: see ``blendshop/figures/readers.py``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final, Literal, Protocol, cast

from django.conf import settings
from django.utils import translation

from blendshop.figures.locales import LOCALES
from blendshop.figures.readers import begin_reading_in, read_in
from blendshop.figures.units import SYSTEMS
from blendshop.figures.writing import Figures

LanguageCode = Literal["en", "es"]
UnitsName = Literal["us", "metric"]

#: Spanish as written in the United States: the marks of its numbers are those of English there.
_LOCALE_OF: Final[Mapping[LanguageCode, str]] = {"en": "en-US", "es": "es-US"}


@dataclass(frozen=True)
class Choice:
    """A language and a system of units, both known."""

    language: LanguageCode
    units: UnitsName

    @property
    def figures(self) -> Figures:
        """How figures are written in this choice; as the house does where it has the language."""
        is_house_s = house_choice().language == self.language
        tag = settings.FIGURES_LOCALE if is_house_s else _LOCALE_OF[self.language]
        return Figures(LOCALES[tag], SYSTEMS[self.units])

    @property
    def code(self) -> str:
        """The code Django activates: the house's own where it has the language."""
        own: str = settings.LANGUAGE_CODE
        return own if own.partition("-")[0] == self.language else self.language


class Chooses(Protocol):
    """Who may have chosen: a person or a company. Blank leaves it to whoever stands above."""

    language: str
    units: str


class Person(Chooses, Protocol):
    @property
    def company(self) -> Chooses | None: ...


def house_choice() -> Choice:
    """The choice of ``LANGUAGE_CODE`` and ``FIGURES_UNITS`` in the settings."""
    return _first_of()


def choice_for(company: Chooses | None) -> Choice:
    """The company's choice, or else the house's: for what a company as a whole is sent."""
    return house_choice() if company is None else _first_of(company)


def choice_of(user: object) -> Choice:
    """The person's choice, else the company's, else the house's; nobody's is the house's."""
    if not hasattr(user, "language"):
        return house_choice()
    person = cast("Person", user)
    return _first_of(person, *filter(None, (person.company,)))


def _first_of(*choosers: Chooses) -> Choice:
    language = settings.LANGUAGE_CODE.partition("-")[0]
    units = settings.FIGURES_UNITS
    for each in reversed(choosers):
        language, units = each.language or language, each.units or units
    return Choice(cast("LanguageCode", language), cast("UnitsName", units))


def by_choice(readers: Iterable[tuple[str, Choice]]) -> dict[Choice, list[str]]:
    """Addresses by the choice of whoever reads there: one text is written for each."""
    found = defaultdict(list)
    for address, choice in readers:
        found[choice].append(address)
    return dict(found)


@contextmanager
def written_in(choice: Choice) -> Iterator[None]:
    """Inside, words and figures are written for whoever made this choice."""
    with translation.override(choice.code), read_in(choice.figures):
        yield


def begin_writing_in(choice: Choice) -> None:
    """From now on, until the ``written_in`` around this call ends."""
    translation.activate(choice.code)
    begin_reading_in(choice.figures)


@contextmanager
def in_house_words() -> Iterator[None]:
    """Inside, or in a function so decorated, what is kept or told to the plant is written."""
    with written_in(house_choice()):
        yield
