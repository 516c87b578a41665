"""Weighed masses, exact in every database: stored as whole thousandths of a pound.

A ledger must add up to the last digit. SQLite keeps decimals as 8-byte reals, so sums of them
and ``F()`` arithmetic drift (0.1 + 0.2); integers do not, on any engine. Thousandths, because
that is the finest scale step the catalogue admits, so whatever a scale shows can be entered.
"""

from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.db import models

from blendshop.figures.readers import house

PLACES: Final = 3
#: Larger than any lot (a hundred railcars), small enough to be a typing mistake above it.
MOST_LB: Final = Decimal(100_000_000)

if TYPE_CHECKING:
    _Integer = models.BigIntegerField[Decimal, Decimal]
else:
    _Integer = models.BigIntegerField


def exact_pounds(value: object) -> Decimal:
    """A mass as a Decimal of at most three places; ValueError when it is none.

    A float goes by its shortest decimal form, so 12.1 is 12.1 pounds.
    """
    try:
        mass = Decimal(repr(value) if isinstance(value, float) else str(value))
    except InvalidOperation as error:
        raise ValueError(f"{value} is not a number of pounds.") from error
    if not mass.is_finite() or abs(mass) > MOST_LB:
        raise ValueError(f"{value} is not a number of pounds a plant could weigh.")
    if mass != round(mass, PLACES):
        raise ValueError(f"{value} lb has more than {PLACES} decimals; no scale shows that.")
    return round(mass, PLACES)


def written_pounds(mass: Decimal) -> str:
    """``Decimal("44000.500")`` as ``44,000.5``: every digit that counts and no others."""
    return house().every_digit(mass)


class PoundsField(_Integer):
    """A Decimal of pounds in Python, an integer of thousandths in the database."""

    def from_db_value(self, value: Any, *_unused: object) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-PLACES)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None:
            return None
        try:
            return exact_pounds(value)
        except ValueError as error:
            raise ValidationError(str(error)) from error

    def get_prep_value(self, value: Any) -> Any:
        if value is None or hasattr(value, "resolve_expression"):
            return value
        return int(exact_pounds(value).scaleb(PLACES))

    def formfield(self, *_args: Any, **kwargs: Any) -> forms.Field | None:
        return forms.DecimalField(decimal_places=PLACES, **kwargs)
