"""The answer of a spray sheet: what to measure out, what it covers and costs."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from formulas.answers.answer import Notice


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayAnswer(Snapshot):
    """Figures rounded to six places; tank, area and cost are None where none was asked for.

    ``cost_per_1000sqft`` is dollars to four places.
    """

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
    cost_per_1000sqft: Decimal | None
    cautions: tuple[Notice, ...]
