"""In which language and units a customer's paper is written: frozen with it when it is issued.

A paper is drawn from its record for ever, so the record says how; the company's choice of today
only counts for what is issued next. None stands for the words and figures of the house.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final, cast

from django.conf import settings

from blendshop.accounts.models import Company
from blendshop.languages.choice import (
    Choice,
    LanguageCode,
    UnitsName,
    choice_for,
    house_choice,
    written_in,
)
from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Written(Snapshot):
    """A language (``es``) and a system of units (``metric``).

    ``checked_by`` names who had checked the translation when the paper was issued.
    """

    language: str
    units: str
    checked_by: str = ""


#: The print that stands beside every paper written otherwise: whoever checks one can read it.
ENGLISH: Final = Written("en", "us")


def written_for(company: Company) -> Written | None:
    """As the company has chosen; None where that is how the house writes."""
    choice = choice_for(company)
    if choice == house_choice():
        return None
    checked_by = "" if choice.language == ENGLISH.language else settings.SPANISH_CHECKED_BY
    return Written(choice.language, choice.units, checked_by)


def has_english_beside(written: Written | None) -> bool:
    """Whether a paper written so keeps its English print in US units beside it."""
    return written is not None and written != ENGLISH


def spanish_beside(written: Written | None) -> Written | None:
    """How it is kept in Spanish beside a paper in another language; the units are the paper's."""
    issued = house_choice() if written is None else _choice(written)
    if issued.language == "es":
        return None
    return Written("es", issued.units, settings.SPANISH_CHECKED_BY)


@contextmanager
def writing(written: Written | None) -> Iterator[None]:
    """Inside, words and figures are those of a paper written so, whoever asked for it."""
    with written_in(house_choice() if written is None else _choice(written)):
        yield


def _choice(written: Written) -> Choice:
    return Choice(cast("LanguageCode", written.language), cast("UnitsName", written.units))
