"""Soil through a season: monthly means in, one temperature a day out.

Temperatures are those of the soil or thatch where the nitrogen lies, not of the air. A month
counts 365.25 / 12 days from the application on. Between the middles of two months the
temperature runs straight; before the first and after the last middle it stays. That is this
project's own reading of monthly means, no published soil model.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.units import fahrenheit

#: Days of the outlook: 16 weeks.
OUTLOOK_DAYS: Final = 112
DAYS_PER_MONTH: Final = 365.25 / 12
#: Months needed to cover the outlook, and the most that can be meant.
_MONTHS: Final = (math.ceil(OUTLOOK_DAYS / DAYS_PER_MONTH), 12)
#: Soil temperatures that can be meant in degrees Celsius (-4 to 122 F).
_SOIL_TEMP_C: Final = (-20.0, 50.0)
#: Driest and wettest that can be meant; 0 is the wilting point, 1 field capacity.
_RELATIVE_WATER: Final = (-0.5, 2.0)


@dataclass(frozen=True, slots=True)
class SoilSeason:
    """Monthly mean soil temperatures from the application on, and how moist the soil is.

    ``relative_water_content`` is (water - wilting point) / (field capacity - wilting point), a
    fraction. ``mark`` and ``source`` say where the temperatures come from.
    """

    name: str
    monthly_soil_temp_c: tuple[float, ...]
    relative_water_content: float
    mark: str = "typed in"
    source: str = ""


def season_errors(season: SoilSeason) -> Iterator[FieldError]:
    """Every wrong field, named ``soil_temp.0`` and the like."""
    count, (fewest, most) = len(season.monthly_soil_temp_c), _MONTHS
    if not fewest <= count <= most:
        yield FieldError(
            "soil_temp",
            f"Give {fewest} to {most} monthly soil temperatures from the application on; "
            f"{fewest} cover the {OUTLOOK_DAYS // 7} weeks.",
        )
    low, high = _SOIL_TEMP_C
    for month, temp_c in enumerate(season.monthly_soil_temp_c):
        if not low <= temp_c <= high:  # false for NaN as well
            yield FieldError(
                f"soil_temp.{month}",
                f"Must be a soil temperature from {low:g} to {high:g} C "
                f"({fahrenheit(low):g} to {fahrenheit(high):g} F).",
            )
    driest, wettest = _RELATIVE_WATER
    if not driest <= season.relative_water_content <= wettest:
        yield FieldError(
            "relative_water_content",
            f"Must be from {driest:g} to {wettest:g}: 0 at the wilting point, 1 at field capacity.",
        )


def daily_soil_temp_c(season: SoilSeason) -> Floats:
    """One temperature for the middle of each of the ``OUTLOOK_DAYS`` days.

    >>> even = SoilSeason("Even", (20.0,) * 4, 0.8)
    >>> set(daily_soil_temp_c(even).tolist())
    {20.0}
    """
    errors = tuple(season_errors(season))
    if errors:
        raise BadProblem(errors)
    middles = (np.arange(len(season.monthly_soil_temp_c)) + 0.5) * DAYS_PER_MONTH
    temp_c: Floats = np.interp(
        np.arange(OUTLOOK_DAYS) + 0.5, middles, np.array(season.monthly_soil_temp_c)
    )
    return temp_c


def moisture_factor(relative_water_content: float) -> float:
    """How much of its speed a rate keeps: 0 at the wilting point, 1 at field capacity, linear.

    Sources: Soil Research 61:9-19 (2023), relative water content is the best predictor of
    nitrogen mineralisation; Cassman and Munns 1980, Soil Sci. Soc. Am. J.
    """
    return min(1.0, max(0.0, relative_water_content))
