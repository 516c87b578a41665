"""What a quote lets its customer choose between: each choice with its lines and its total."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from django.conf import settings
from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from blendshop.figures.writing import Figures
from blendshop.money import ZERO
from formulas.answers.promised_grade import product_name
from orders.models import Quote, QuoteLine
from orders.records.plant_words import package_words


@dataclass(frozen=True, slots=True)
class Choice:
    """The lines an order takes if this one is accepted, in the order of the quote.

    ``total`` is what the order comes to, ``deposit_total`` of it is refundable. ``is_taken`` is
    None until one is accepted.
    """

    number: int
    lines: tuple[QuoteLine, ...]
    is_taken: bool | None

    @property
    def alternative(self) -> QuoteLine:
        """The line that is in no other choice."""
        return next(line for line in self.lines if not line.in_every_choice)

    @property
    def total(self) -> Decimal:
        return sum((line.line_total for line in self.lines), ZERO) + self.deposit_total

    @property
    def deposit_total(self) -> Decimal:
        return sum((line.deposit for line in self.lines), ZERO)


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """A choice and its words, in the figures of who reads."""

    choice: Choice
    words: str


def choices_of(quote: Quote) -> tuple[Choice, ...]:
    """The choices of a quote; none where all its lines are taken."""
    if not quote.choices:
        return ()
    return choices_among(quote.lines.select_related("revision__blend", "package"), quote.chosen)


def choices_among(lines: Iterable[QuoteLine], chosen: int | None) -> tuple[Choice, ...]:
    """The same of lines that were read, all of one quote; lines of no choice are left out."""
    in_choices = sorted(
        (line for line in lines if line.choice is not None),
        key=lambda line: (line.choice or 0, line.position),
    )
    return tuple(
        Choice(number or 0, tuple(taken), None if chosen is None else number == chosen)
        for number, taken in groupby(in_choices, key=lambda line: line.choice)
    )


def alternative_words(choice: Choice) -> str:
    """``Spring green 16-0-0, 2 × 265 gal totes``: the line that sets a choice apart."""
    line = choice.alternative
    package, blend = line.package, line.revision
    if package.is_bulk:
        how_many = _("{volume} in bulk").format(volume=reader().volume(line.quantity, 0))
    else:
        name = package.name if line.quantity == 1 else package.plural_name
        how_many = f"{line.quantity} × {package_words(name, line.quantity)}"
    return f"{product_name(blend.blend.name, blend.grade)}, {how_many}"


def choice_words(choice: Choice, figures: Figures) -> str:
    """A choice on one line, by its number, with what it comes to."""
    return _("Choice {number}, {taken}: {total}").format(
        number=choice.number,
        taken=alternative_words(choice),
        total=figures.money(choice.total, settings.CURRENCY),
    )
