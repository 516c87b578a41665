"""The spray sheet: from a product and a rate to fluid ounces, tanks and areas.

    product (gal per 1,000 sq ft) = N rate / (N % / 100 x density)
    product in a tank (gal)       = tank x product / spray volume

The spray volume (``carrier_gal_per_1000sqft``) is everything that leaves the nozzle, product
included. Money is not computed here: the caller multiplies ``product_gal_per_1000sqft`` by its
own Decimal cost per gallon. Cautions come from ``spray_cautions``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from formulas.engine.composition import QUICK_FORMS, content_pct, slow_n_pct
from formulas.engine.field.osmotic_load import osmol_per_l, osmol_per_lb, salt_osmol_per_lb
from formulas.engine.field.spray_cautions import Application, spray_cautions
from formulas.engine.problem import BadProblem, FieldError, Stock
from formulas.engine.result import Finding
from formulas.engine.units import (
    FL_OZ_PER_GAL,
    SQFT_PER_ACRE,
    SQFT_PER_RATE_AREA,
    content_lb_per_gal,
    per_acre,
    product_gal_per_lb,
)
from formulas.engine.validate import stock_errors

#: Air temperatures that can be meant in degrees Fahrenheit.
_AIR_TEMP_F: Final = (-40.0, 130.0)
#: What is left of a pure urea solution in floating point, osmol per litre.
_NO_SALT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class SprayRequest:
    """One application. Exactly one of the two rates is given; the rest in None is optional.

    ``solutes`` is what is known to be dissolved in the product, percent by weight by key of
    ``density.solutes.SOLUTES``; ``triazone_n_pct`` the part of its slow nitrogen, percent by
    weight of the product, that is known to be urea-triazone.
    """

    analysis: Mapping[str, float]
    density_lb_per_gal: float
    carrier_gal_per_1000sqft: float
    n_rate_lb_per_1000sqft: float | None = None
    product_fl_oz_per_1000sqft: float | None = None
    tank_gal: float | None = None
    on_hand_gal: float | None = None
    air_temp_f: float | None = None
    solutes: Mapping[str, float] = field(default_factory=dict)
    triazone_n_pct: float = 0.0


@dataclass(frozen=True, slots=True)
class SpraySheet:
    """What to measure out and what it covers. Tank and area are None where none was given."""

    n_lb_per_gal: float
    n_lb_per_1000sqft: float
    readily_available_n_lb_per_1000sqft: float
    slow_n_lb_per_1000sqft: float
    product_fl_oz_per_1000sqft: float
    product_gal_per_1000sqft: float
    product_gal_per_acre: float
    carrier_gal_per_1000sqft: float
    carrier_gal_per_acre: float
    water_gal_per_1000sqft: float
    product_per_tank_gal: float | None
    water_per_tank_gal: float | None
    area_per_tank_sqft: float | None
    area_on_hand_sqft: float | None
    area_on_hand_acres: float | None
    osmotic_load_osmol_per_l: float
    cautions: tuple[Finding, ...]


def spray_sheet(request: SprayRequest) -> SpraySheet:
    """Work out one application; raises ``BadProblem`` naming every wrong field.

    >>> uan = {"N.urea": 14.0, "N.ammoniacal": 7.0, "N.nitrate": 7.0}
    >>> sheet = spray_sheet(SprayRequest(uan, 10.67, 2.0, n_rate_lb_per_1000sqft=1.0))
    >>> round(sheet.product_fl_oz_per_1000sqft, 1)
    42.8
    """
    errors = tuple(_errors(request))
    if errors:
        raise BadProblem(errors)
    density = request.density_lb_per_gal
    product_gal = _product_gal_per_1000sqft(request)
    carrier_gal = request.carrier_gal_per_1000sqft
    if product_gal > carrier_gal:
        raise BadProblem((_too_little_carrier(product_gal),))
    pounds_per_pct = content_lb_per_gal(1.0, density) * product_gal
    quick_lb = pounds_per_pct * sum(content_pct(request.analysis, form) for form in QUICK_FORMS)
    slow_lb = pounds_per_pct * slow_n_pct(request.analysis)
    product_lb = product_gal * density
    load, salt_load = (
        osmol_per_l(product_lb * per_lb(request.analysis, request.solutes), carrier_gal)
        for per_lb in (osmol_per_lb, salt_osmol_per_lb)
    )
    tank_gal, on_hand_gal = request.tank_gal, request.on_hand_gal
    tank_product_gal = None if tank_gal is None else tank_gal * product_gal / carrier_gal
    on_hand_sqft = None if on_hand_gal is None else on_hand_gal / product_gal * SQFT_PER_RATE_AREA
    return SpraySheet(
        n_lb_per_gal=content_lb_per_gal(content_pct(request.analysis, "N"), density),
        n_lb_per_1000sqft=quick_lb + slow_lb,
        readily_available_n_lb_per_1000sqft=quick_lb,
        slow_n_lb_per_1000sqft=slow_lb,
        product_fl_oz_per_1000sqft=product_gal * FL_OZ_PER_GAL,
        product_gal_per_1000sqft=product_gal,
        product_gal_per_acre=per_acre(product_gal),
        carrier_gal_per_1000sqft=carrier_gal,
        carrier_gal_per_acre=per_acre(carrier_gal),
        water_gal_per_1000sqft=carrier_gal - product_gal,
        product_per_tank_gal=tank_product_gal,
        water_per_tank_gal=(
            None if tank_gal is None or tank_product_gal is None else tank_gal - tank_product_gal
        ),
        area_per_tank_sqft=(
            None if tank_gal is None else tank_gal / carrier_gal * SQFT_PER_RATE_AREA
        ),
        area_on_hand_sqft=on_hand_sqft,
        area_on_hand_acres=None if on_hand_sqft is None else on_hand_sqft / SQFT_PER_ACRE,
        osmotic_load_osmol_per_l=load,
        cautions=spray_cautions(
            Application(
                quick_n_lb_per_1000sqft=quick_lb,
                slow_n_lb_per_1000sqft=slow_lb,
                product_gal_per_1000sqft=product_gal,
                carrier_gal_per_1000sqft=carrier_gal,
                air_temp_f=request.air_temp_f,
                p2o5_lb_per_1000sqft=pounds_per_pct * content_pct(request.analysis, "P2O5"),
                iron_lb_per_1000sqft=pounds_per_pct * content_pct(request.analysis, "Fe"),
                triazone_n_lb_per_1000sqft=pounds_per_pct * request.triazone_n_pct,
                osmotic_load_osmol_per_l=load,
                salt_load_osmol_per_l=salt_load if salt_load > _NO_SALT else 0.0,
                solutes=frozenset(key for key, pct in request.solutes.items() if pct > 0),
            )
        ),
    )


def _product_gal_per_1000sqft(request: SprayRequest) -> float:
    if request.product_fl_oz_per_1000sqft is not None:
        return request.product_fl_oz_per_1000sqft / FL_OZ_PER_GAL
    gal_per_lb = product_gal_per_lb(content_pct(request.analysis, "N"), request.density_lb_per_gal)
    return (request.n_rate_lb_per_1000sqft or 0.0) * gal_per_lb


def _errors(request: SprayRequest) -> Iterator[FieldError]:
    product = Stock(
        "product",
        "Product",
        request.density_lb_per_gal,
        0.0,
        request.analysis,
        solutes=request.solutes,
    )
    found = tuple(stock_errors((product,)))
    for error in found:
        yield FieldError(error.field.removeprefix("stocks.0."), error.message)
    rates = ("n_rate_lb_per_1000sqft", "product_fl_oz_per_1000sqft")
    if sum(getattr(request, name) is not None for name in rates) != 1:
        yield FieldError(rates[0], "Give either the pounds of N or the fluid ounces of product.")
    for name in (*rates, "carrier_gal_per_1000sqft", "tank_gal", "on_hand_gal"):
        value: float | None = getattr(request, name)
        if value is not None and not (math.isfinite(value) and value > 0):
            yield FieldError(name, "Must be a number above 0.")
    if (
        not found
        and request.n_rate_lb_per_1000sqft is not None
        and content_pct(request.analysis, "N") <= 0
    ):
        yield FieldError(rates[0], "The product holds no nitrogen: give fluid ounces instead.")
    slow_pct = 0.0 if found else slow_n_pct(request.analysis)
    if not (found or 0 <= request.triazone_n_pct <= slow_pct * (1 + 1e-9)):
        yield FieldError("triazone_n_pct", "Must be a part of the slow nitrogen, 0 or more.")
    temp = request.air_temp_f
    if temp is not None and not _AIR_TEMP_F[0] <= temp <= _AIR_TEMP_F[1]:
        yield FieldError("air_temp_f", "Must be an air temperature in degrees Fahrenheit.")


def _too_little_carrier(product_gal: float) -> FieldError:
    return FieldError(
        "carrier_gal_per_1000sqft",
        f"The product alone is {product_gal:.2f} gal per 1,000 sq ft; the spray volume includes "
        "it and cannot be smaller.",
    )
