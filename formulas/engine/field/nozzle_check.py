"""What a nozzle has to give for a spray volume, caught in a cup and timed.

A boom, by nozzle spacing and speed (UF/IFAS Extension WG013, Calibration of Herbicide
Applicators, "5940 method"):

    gal per acre = 5,940 x gal per min of one nozzle / (mph x inches of spacing)

with the same in the ounce method (LSU AgCenter, Ounces Equal Gallons; 1/128 acre is about 340
sq ft): the fluid ounces one nozzle gives while it is driven over 1/128 acre are gallons an acre.

A hand gun, by the time somebody takes for 1,000 sq ft (NC State Extension, calibration of a spray
gun): what runs into a bucket in that time is the spray volume per 1,000 sq ft.

A nozzle that differs from the others by 10 percent or more is replaced (Mississippi State
University Extension, Turf Tips, March 16, 2009); here the same bounds are put around the target.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.units import FL_OZ_PER_GAL, SQFT_PER_ACRE, per_acre

#: A mile an hour is 88 ft a minute: 43,560 sq ft x 12 in / 88 ft.
BOOM_CONSTANT: Final = SQFT_PER_ACRE * 12 / 88
#: Square feet of 1/128 acre, on which an ounce is a gallon an acre.
OUNCE_AREA_SQFT: Final = SQFT_PER_ACRE / FL_OZ_PER_GAL
OFF_BY: Final = 0.10
#: How long a cup is held under a nozzle (common practice, no source).
CATCH_SECONDS: Final = 30.0
_FT_PER_MINUTE_AT_1_MPH: Final = 88.0


@dataclass(frozen=True, slots=True)
class NozzleCheck:
    """The target of one nozzle and the bounds within which it is good."""

    flow_gal_per_min: float
    catch_seconds: float
    catch_fl_oz: float

    @property
    def least_fl_oz(self) -> float:
        return self.catch_fl_oz * (1 - OFF_BY)

    @property
    def most_fl_oz(self) -> float:
        return self.catch_fl_oz * (1 + OFF_BY)


@dataclass(frozen=True, slots=True)
class OunceCourse:
    """The ounce method: drive ``course_ft`` in ``course_seconds``, catch one nozzle as long."""

    course_ft: float
    course_seconds: float
    catch_fl_oz: float


def boom_check(
    *,
    carrier_gal_per_1000sqft: float,
    nozzle_spacing_in: float,
    speed_mph: float,
    catch_seconds: float = CATCH_SECONDS,
) -> NozzleCheck:
    """The target of one nozzle of a boom; ``BadProblem`` names every figure that is not above 0.

    >>> check = boom_check(
    ...     carrier_gal_per_1000sqft=1, nozzle_spacing_in=20, speed_mph=3, catch_seconds=60
    ... )
    >>> round(check.flow_gal_per_min, 2), round(check.catch_fl_oz, 1)
    (0.44, 56.3)
    """
    _require(
        {
            "carrier_gal_per_1000sqft": carrier_gal_per_1000sqft,
            "nozzle_spacing_in": nozzle_spacing_in,
            "speed_mph": speed_mph,
            "catch_seconds": catch_seconds,
        }
    )
    gal_per_acre = per_acre(carrier_gal_per_1000sqft)
    return _check(gal_per_acre * speed_mph * nozzle_spacing_in / BOOM_CONSTANT, catch_seconds)


def ounce_course(
    *, carrier_gal_per_1000sqft: float, nozzle_spacing_in: float, speed_mph: float
) -> OunceCourse:
    """The way to drive so that the ounces of one nozzle are gallons an acre."""
    _require({"nozzle_spacing_in": nozzle_spacing_in, "speed_mph": speed_mph})
    course_ft = OUNCE_AREA_SQFT * 12 / nozzle_spacing_in
    seconds = course_ft / (speed_mph * _FT_PER_MINUTE_AT_1_MPH) * 60
    return OunceCourse(course_ft, seconds, per_acre(carrier_gal_per_1000sqft))


def gun_check(
    *,
    carrier_gal_per_1000sqft: float,
    seconds_per_1000sqft: float,
    nozzles: int = 1,
    catch_seconds: float = CATCH_SECONDS,
) -> NozzleCheck:
    """The target of one nozzle carried by hand over 1,000 sq ft in so many seconds."""
    _require(
        {
            "carrier_gal_per_1000sqft": carrier_gal_per_1000sqft,
            "seconds_per_1000sqft": seconds_per_1000sqft,
            "nozzles": nozzles,
            "catch_seconds": catch_seconds,
        }
    )
    return _check(carrier_gal_per_1000sqft * 60 / seconds_per_1000sqft / nozzles, catch_seconds)


def _check(flow_gal_per_min: float, catch_seconds: float) -> NozzleCheck:
    caught = flow_gal_per_min * FL_OZ_PER_GAL * catch_seconds / 60
    return NozzleCheck(flow_gal_per_min, catch_seconds, caught)


def _require(given: Mapping[str, float]) -> None:
    errors = tuple(
        FieldError(name, "Must be a number above 0.")
        for name, value in given.items()
        if not (math.isfinite(value) and value > 0)
    )
    if errors:
        raise BadProblem(errors)
