"""Field names of the blend page and the values it begins with."""

from __future__ import annotations

from typing import Final

from formulas.engine.composition import NUTRIENTS, OTHER_INGREDIENTS

#: Rows that always stand on the page: what most lawn blends ask for.
FIRST_ROWS: Final = ("N", "P2O5", "K2O", "S", "Fe", "Mn")
#: Rows that can be added. Insoluble nitrogen is there because some laws count no other as slow.
MORE_ROWS: Final = (
    *(key for key in (*NUTRIENTS, *OTHER_INGREDIENTS) if key not in FIRST_ROWS),
    "N.insoluble",
)
ALL_ROWS: Final = (*FIRST_ROWS, *MORE_ROWS)

BY_WISH: Final = "wish"
BY_RECIPE: Final = "recipe"
STRONGEST: Final = "strongest"

#: What a field holds when nothing is said about it. Spray figures are starting points to be
#: changed (common practice, no source): 0.7 lb N and 2 gal per 1000 sq ft, a 200 gal tank.
DEFAULTS: Final = {
    "mode": BY_WISH,
    "strongest": "N",
    "cheapest_per": "gal",
    "quantity": "1",
    "n_rate": "0.7",
    "carrier": "2",
    "tank": "200",
    "air": "75",
    "recipe_rows": "3",
    "limit_rows": "1",
    "margin_chance": "1",
    "storage_days": "30",
    "storage_f": "32",
    "price_asked_per": "gal",
}
#: A price the caller does not want to exceed: dollars, for what, and whether delivered.
PRICE_ASKED: Final = "price_asked"
PRICE_ASKED_PER: Final = "price_asked_per"
ASKED_DELIVERED: Final = "asked_delivered"
#: Said in a line only; no field of the page shows it.
ONLY_SAID: Final = (ASKED_DELIVERED,)
#: What the stocks of a gallon may cost, for those who see costs.
MATERIAL_MAX: Final = "material_max"
#: More rows than this are not a recipe but an accident.
MOST_ROWS: Final = 30


def wish_field(key: str, side: str) -> str:
    """``wish_field("N", "min")`` is the name of the field for "N at least"."""
    return f"{key}_{side}"


def recipe_field(part: str, row: int) -> str:
    return f"recipe_{part}_{row}"


def limit_field(part: str, row: int) -> str:
    return f"limit_{part}_{row}"


#: How it is sprayed: rate, volume, state, county and city; remembered for each customer.
SPRAYED: Final = ("n_rate", "carrier", "law_state", "law_county", "law_place")
#: Fields of the spray sheet: a slip in one of them leaves the blend itself standing.
SPRAY: Final = ("n_rate", "carrier", "tank", "air")
#: Months of soil temperature that cover the release outlook.
SOIL_MONTHS: Final = 4
TYPED_SEASON: Final = "typed"


def soil_field(month: int) -> str:
    """``soil_field(0)`` is the month of the application."""
    return f"soil_{month + 1}"


#: Fields of the sections below the answer, whose slips leave the blend standing likewise.
SECTIONS: Final = ("season", *(soil_field(month) for month in range(SOIL_MONTHS)))
