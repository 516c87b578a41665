"""Figures as a person reads them: rounded here, once, half up from the shortest decimal form.

A float goes by the decimal it prints as (2.675 is 2.68, though the nearest double is below it);
nothing is ever written ``-0.0`` or with an exponent. Money is written by ``blendshop.money``,
which refuses to drop a digit. Every method raises TypeError for what is no number and ValueError
for one that is not finite.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal, localcontext
from typing import Final

from blendshop.figures.locales import EN_US, Locale
from blendshop.figures.units import US, Unit, Units
from blendshop.money import format_money, money, unit_price

Number = int | float | Decimal
#: Decimal places beyond which a figure rounded up or down is the noise of a float.
_BITS_PLACES: Final = 6


@dataclass(frozen=True)
class Figures:
    """Writes numbers, quantities, prices and days in one locale and one system of units."""

    locale: Locale = EN_US
    units: Units = US

    # --- Bare numbers: the unit stands in a column's head or is no unit at all ----------------
    def number(self, value: Number, places: int) -> str:
        """``1234.5`` to two places as ``1,234.50``."""
        return self._fixed(_exact(value), places)

    def significant(self, value: Number, digits: int = 6) -> str:
        """At most so many significant digits: 12.3400 is ``12.34``, 3788.2 to four ``3788``.

        No zeros at the end and no grouping marks: a limit or a reading, as its source writes it.
        """
        rounded = Context(prec=digits, rounding=ROUND_HALF_UP).plus(_exact(value))
        return self._trimmed(rounded, grouped=False)

    def at_most(self, value: Number, places: int) -> str:
        """Rounded to so many places, no zeros at the end: 0.900 is ``0.9``, 68.0 is ``68``."""
        return self._trimmed(_rounded(_exact(value), places))

    def every_digit(self, value: Decimal | int) -> str:
        """Every digit that counts and no others: ``Decimal("44000.500")`` as ``44,000.5``."""
        if isinstance(value, float):
            raise TypeError("A float has no last digit; only a Decimal is written in full.")
        return self._trimmed(_exact(value))

    def scale_weight(self, weight_lb: Number, scale_step_lb: Number) -> str:
        """A weight in the scale's own pounds, with as many places as the scale shows."""
        return self.number(weight_lb, step_places(scale_step_lb))

    def weighed_number(self, mass_lb: Decimal) -> str:
        """A weighed mass in a column headed by the unit: every digit in lb, one place in kg."""
        unit = self.units.mass_lb
        return self.every_digit(mass_lb) if unit == US.mass_lb else self._shown(unit, mass_lb, 1)

    # --- Shares --------------------------------------------------------------------------------
    def percent(self, pct: Number, places: int) -> str:
        """A share in percent with its sign: ``24.00%``."""
        return self.locale.percent.format(self.number(pct, places))

    def content(self, pct: Number) -> str:
        """A content in percent by weight: one place from 1 up, two below, four below 0.01."""
        size = abs(_exact(pct))
        if not size:
            return self.percent(pct, 0)
        places = 1 if size >= 1 else 2 if size >= Decimal("0.01") else 4
        return self.percent(pct, places)

    def guarantee(self, pct: Decimal) -> str:
        """A guarantee with exactly the digits it was given; a zero precedes the point."""
        if not isinstance(pct, Decimal):
            raise TypeError(f"A guarantee is a Decimal, not a {type(pct).__name__}: {pct!r}.")
        return self.locale.percent.format(self.locale.number(f"{_exact(pct):f}"))

    # --- Quantities with their unit, converted from the unit they are kept in ------------------
    def mass(self, mass_lb: Number, places: int = 1) -> str:
        """``1,204.5 lb`` or ``546.4 kg``."""
        return self._quantity(self.units.mass_lb, mass_lb, places)

    def read_weight(self, mass_lb: Decimal) -> str:
        """What a customer reads of a mass that was weighed: the scale's digits, or converted."""
        return self.weighed(mass_lb) if self.units.mass_lb == US.mass_lb else self.mass(mass_lb)

    def weighed(self, mass_lb: Decimal) -> str:
        """A mass as the scale gave it, in its own pounds, every digit: ``1,204.5 lb``."""
        return f"{self.every_digit(mass_lb)} {US.mass_lb.mark}"

    def volume(self, volume_gal: Number, places: int = 1) -> str:
        """``265.0 gal`` or ``1,003.1 L``."""
        return self._quantity(self.units.volume_gal, volume_gal, places)

    def density(self, density_lb_per_gal: Number, places: int = 2) -> str:
        """``10.71 lb/gal`` or ``1.283 kg/L``."""
        return self._quantity(self.units.density_lb_per_gal, density_lb_per_gal, places)

    def rate(self, rate_lb_per_1000sqft: Number, places: int = 2) -> str:
        """``0.90 lb per 1,000 sq ft`` or ``4.4 g/m²``."""
        return self._quantity(self.units.rate_lb_per_1000sqft, rate_lb_per_1000sqft, places)

    def rate_down(self, rate_lb_per_1000sqft: Number, places: int = 2) -> str:
        """As ``rate``, but never more than it is: who goes by it keeps an upper limit."""
        return self._quantity(
            self.units.rate_lb_per_1000sqft, rate_lb_per_1000sqft, places, ROUND_FLOOR
        )

    def distance_up(self, distance_ft: Number, places: int = 0) -> str:
        """``25 ft`` or ``7.7 m``, never less than it is: who goes by it keeps a lower limit."""
        return self._quantity(self.units.distance_ft, distance_ft, places, ROUND_CEILING)

    def area(self, area_sqft: Number, places: int = 2) -> str:
        """``2.50 acre`` or ``1.01 ha``."""
        return self._quantity(self.units.area_sqft, area_sqft, places)

    def temperature(self, temperature_f: Number, most_places: int = 1) -> str:
        """``80 °F`` or ``26.7 °C``; no zeros at the end."""
        unit = self.units.temperature_f
        return f"{self.at_most(unit.shown(_exact(temperature_f)), most_places)} {unit.mark}"

    # --- Prices and days -------------------------------------------------------------------------
    def money(self, amount: Decimal, currency: str) -> str:
        """An amount to the cent; ValueError where it has more than cents."""
        return self._marked_money(format_money(amount, currency))

    def unit_price(self, price: Decimal, currency: str) -> str:
        """A price per unit: cents, or four places where it has more than cents."""
        places = 2 if price == money(price) else 4
        return self._marked_money(format_money(price, currency, places=places))

    def price_per_volume(self, price_per_gal: Decimal, currency: str) -> str:
        """``$6.4150`` a gallon, or what that is a litre to four places: ``$1.6947``."""
        return self._price_per(self.units.volume_gal, price_per_gal, currency)

    def price_per_mass(self, price_per_lb: Decimal, currency: str) -> str:
        """``$2.48`` a pound, or what that is a kilogram to four places: ``$5.4675``."""
        return self._price_per(self.units.mass_lb, price_per_lb, currency)

    def price_per_area(self, price_per_1000sqft: Decimal, currency: str) -> str:
        """``$1.74`` for 1,000 sq ft, or what that is for 100 m² to four places: ``$1.8729``."""
        return self._price_per(self.units.area_1000sqft, price_per_1000sqft, currency)

    def date(self, day: dt.date) -> str:
        """``March 2, 2026``."""
        return self.locale.date(day)

    def weekday(self, day: dt.date) -> str:
        """``Monday, March 2``."""
        return self.locale.weekday_and_date(day)

    # --- Rounding and marks ----------------------------------------------------------------------
    def _fixed(self, value: Decimal, places: int, rounding: str = ROUND_HALF_UP) -> str:
        return self.locale.number(f"{_rounded(value, places, rounding):f}")

    def _trimmed(self, value: Decimal, *, grouped: bool = True) -> str:
        plain = f"{value:f}" if value else "0"
        plain = plain.rstrip("0").rstrip(".") if "." in plain else plain
        return self.locale.number(plain, grouped=grouped)

    def _quantity(
        self, unit: Unit, kept: Number, places: int, rounding: str = ROUND_HALF_UP
    ) -> str:
        return f"{self._shown(unit, kept, places, rounding)} {self.locale.mark(unit.mark)}"

    def _shown(self, unit: Unit, kept: Number, places: int, rounding: str = ROUND_HALF_UP) -> str:
        shown = unit.shown(_exact(kept))
        if rounding != ROUND_HALF_UP:  # the last bits of a float move no figure by a digit
            shown = _rounded(shown, _BITS_PLACES, ROUND_HALF_UP)
        return self._fixed(shown, max(0, places + unit.more_places), rounding)

    def _price_per(self, unit: Unit, price: Decimal, currency: str) -> str:
        if unit.per_kept == 1:
            return self.unit_price(price, currency)
        each = unit_price(price / unit.shown(Decimal(1)))
        return self._marked_money(format_money(each, currency, places=4))

    def _marked_money(self, written: str) -> str:
        """``format_money``'s text with this locale's marks in place of its own."""
        start = next(at for at, sign in enumerate(written) if sign.isdigit())
        return written[:start] + self.locale.number(written[start:].replace(",", ""))


def step_places(step: Number) -> int:
    """Decimal places of a scale step: 5 and 1 give 0, 0.5 gives 1, 0.25 gives 2."""
    exponent = _exact(step).normalize().as_tuple().exponent
    return max(0, -int(exponent))


def _rounded(value: Decimal, places: int, rounding: str = ROUND_HALF_UP) -> Decimal:
    """Half up unless asked otherwise, whatever the caller's context says; never a negative zero."""
    with localcontext(rounding=rounding):
        return Decimal(f"{value:z.{places}f}")


def _exact(value: object) -> Decimal:
    """A number as the decimal it is written as; a float by its shortest form."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise TypeError(f"A figure is a number, not a {type(value).__name__}: {value!r}.")
    exact = Decimal(repr(float(value))) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        raise ValueError(f"A figure is a finite number, not {value}.")
    return exact
