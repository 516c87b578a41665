"""Whose figures are meant: the house's, or those of the person who reads just now.

What is kept or shared is written in the house's figures, whoever asked for it: papers of the
plant, events, frozen price steps. What one person sees on a page is written in the reader's, a
paper of a customer in those its record names (``orders/records/written.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.conf import settings

from blendshop.figures.locales import LOCALES
from blendshop.figures.units import SYSTEMS
from blendshop.figures.writing import Figures

_READER: ContextVar[Figures | None] = ContextVar("figures_of_the_reader", default=None)


def house() -> Figures:
    """The figures of ``FIGURES_LOCALE`` and ``FIGURES_UNITS`` in the settings."""
    return Figures(LOCALES[settings.FIGURES_LOCALE], SYSTEMS[settings.FIGURES_UNITS])


def reader() -> Figures:
    """The figures chosen by ``read_in`` around this call, or else the house's."""
    return _READER.get() or house()


@contextmanager
def read_in(figures: Figures) -> Iterator[None]:
    """Inside, pages are written for somebody who reads in ``figures``."""
    token = _READER.set(figures)
    try:
        yield
    finally:
        _READER.reset(token)


def begin_reading_in(figures: Figures) -> None:
    """From now on, until the ``read_in`` around this call ends."""
    _READER.set(figures)
