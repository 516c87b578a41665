"""Acres, rates, spray volumes and distances in the units of whoever reads or types them.

Kept are acres, lb of nitrogen and gal per 1,000 sq ft, and feet; a reader of metric sees and types
hectares, g/m², L per 100 m² and metres. What is shown and left as it stands is not rounded by
being saved again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Context, Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import reader
from blendshop.figures.units import SQFT_PER_ACRE, US, Unit


def is_metric() -> bool:
    return reader().units != US


def area_unit() -> Unit:
    """Of acres."""
    unit = reader().units.area_sqft
    return replace(unit, per_kept=unit.per_kept * SQFT_PER_ACRE)


def rate_unit() -> Unit:
    """Of lb of nitrogen per 1,000 sq ft."""
    return reader().units.rate_lb_per_1000sqft


def spray_unit() -> Unit:
    """Of gal of spray per 1,000 sq ft."""
    volume, area = reader().units.volume_gal, reader().units.area_1000sqft
    return Unit(f"{volume.mark} / {area.mark}", volume.per_kept / area.per_kept)


def distance_unit() -> Unit:
    """Of feet."""
    return reader().units.distance_ft


def kept(unit: Unit, shown: float) -> float:
    """What ``shown`` is in the unit figures are kept in."""
    return float(Fraction(repr(float(shown))) / unit.per_kept + unit.zero)


def shown(unit: Unit, value: float) -> Decimal:
    return unit.shown(Decimal(repr(float(value))))


@dataclass(frozen=True, slots=True)
class SeasonWords:
    """Heads and phrases with the reader's units in them."""

    areas: Promise
    area_treated: Promise
    per_area: Promise
    rate: Promise
    typed_rate: Promise
    spray: Promise
    distance: Promise
    how_volume: Promise


def season_words() -> SeasonWords:
    if is_metric():
        return SeasonWords(
            areas=gettext_lazy("Hectares"),
            area_treated=gettext_lazy("Hectares treated"),
            per_area=gettext_lazy("A hectare"),
            rate=gettext_lazy("g N per m²"),
            typed_rate=gettext_lazy("N rate, g/m²"),
            spray=gettext_lazy("Spray volume, L per 100 m²"),
            distance=gettext_lazy("Distance to water, m"),
            how_volume=gettext_lazy(
                "Liters are hectares × 10 × g N per m² ÷ kg N in a liter; a hectare is 10,000 m²."
            ),
        )
    return SeasonWords(
        areas=gettext_lazy("Acres"),
        area_treated=gettext_lazy("Acres treated"),
        per_area=gettext_lazy("An acre"),
        rate=gettext_lazy("lb N per 1,000 sq ft"),
        typed_rate=gettext_lazy("N rate, lb per 1,000 sq ft"),
        spray=gettext_lazy("Spray volume, gal per 1,000 sq ft"),
        distance=gettext_lazy("Distance to water, ft"),
        how_volume=gettext_lazy(
            "Gallons are acres × 43.56 × lb N per 1,000 sq ft ÷ lb N in a gallon; an acre is 43,560"
            " sq ft (NIST Handbook 44, appendix C)."
        ),
    )


class QuantityField(forms.FloatField):
    """A figure typed in the reader's unit; its value is in the unit it is kept in.

    ``least`` and ``most`` are of the kept figure, which is shown with ``digits``. ``was`` is the
    figure that is kept now: shown rounded and sent back as it was shown, it stays what it is.
    """

    def __init__(
        self,
        *,
        unit: Callable[[], Unit],
        least: float,
        most: float,
        was: float | None = None,
        digits: int = 4,
        **kwargs: Any,
    ) -> None:
        self.unit, self.least, self.most, self.was = unit, least, most, was
        self.digits = digits
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        return self._written(value, self.digits) if isinstance(value, int | float) else value

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        if typed is None:
            return None
        if self.was is not None and typed == float(self._written(self.was, self.digits)):
            return self.was
        found = kept(self.unit(), typed)
        if not self.least <= found <= self.most:
            raise forms.ValidationError(
                _("From {least} to {most} {unit}.").format(
                    least=self._written(self.least, 4),
                    most=self._written(self.most, 4),
                    unit=self.unit().mark,
                )
            )
        return found

    def _written(self, value: float, digits: int) -> str:
        """As it is typed: so many significant digits where the unit is another, else all."""
        unit = self.unit()
        if unit.per_kept == 1:
            return f"{float(value):.10g}"
        rounded = Context(prec=digits, rounding=ROUND_HALF_UP).plus(shown(unit, value))
        return f"{rounded.normalize():f}"
