"""Demo customers and their blends. All names are invented; wishes show one thing each."""

from decimal import Decimal
from typing import Any, Final

#: company, tier, people (email, name), what it orders by itself, ship-tos
CUSTOMERS: Final[tuple[dict[str, Any], ...]] = (
    {
        "name": "Plover Lane Lawns (demo)",
        "tier": "Season contract",
        "people": (
            ("owner@ploverlane.example", "Dana Demo-Owner"),
            ("crew@ploverlane.example", "Luis Demo-Crew"),
        ),
        "limits": {"most_gal": 1060, "most_total": Decimal(9000), "most_open": Decimal(20000)},
        "limits_confirmed": True,
        "sees_recipe": True,
        "ship_tos": (
            {
                "label": "Main yard",
                "street": "18 Plover Lane",
                "city": "Amberly",
                "state": "MD",
                "county": "Quillen",
                "postal_code": "00000",
                "zone": "Zone 1, within 30 miles",
            },
            {
                "label": "North shed",
                "street": "2 Drovers Way",
                "city": "Hale Cross",
                "state": "NY",
                "county": "Tarn",
                "postal_code": "00000",
                "zone": "Zone 2, 30 to 90 miles",
            },
        ),
    },
    {
        "name": "Ridgecombe Turf Care (demo)",
        "tier": "Standard",
        "people": (("owner@ridgecombe.example", "Priya Demo-Owner"),),
        "limits": {"most_gal": 1590, "most_total": Decimal(15000), "most_open": Decimal(15000)},
        "limits_confirmed": False,
        "sees_recipe": False,
        "ship_tos": (
            {
                "label": "Depot",
                "street": "77 Combe Hill",
                "city": "Thistle Ford",
                "state": "MD",
                "county": "Quillen",
                "postal_code": "00000",
                "zone": "Collected at the plant",
            },
        ),
    },
)

#: What can be made: name, company (None: the plant's own book), note, wish.
BLENDS: Final[tuple[tuple[str, str | None, str, dict[str, Any]], ...]] = (
    (
        "Budget stabilised 28-0-0",
        None,
        "Quick nitrogen with both inhibitors, at the least cost.",
        {
            "targets": [
                {"nutrient": "N", "min": 28},
                {"nutrient": "NBPT", "min": 0.03},
                {"nutrient": "DCD", "min": 0.4},
            ],
            "fill": {"volume_gal": 265},
        },
    ),
    (
        "Summer half-slow with micros",
        "Plover Lane Lawns (demo)",
        "Half the nitrogen slow release, a little potash, chelated micronutrients.",
        {
            "targets": [
                {"nutrient": "N", "min": 22},
                {"nutrient": "K2O", "min": 2},
                {"nutrient": "Fe", "min": 0.1},
                {"nutrient": "Mn", "min": 0.05},
                {"nutrient": "Zn", "min": 0.05},
            ],
            "slow_release_pct": {"min": 50},
            "stock_limits": [{"code": "TRIAZONE28", "min_pct": 40}],
            "exclude": ["FEEDTA"],
            "fill": {"volume_gal": 265},
        },
    ),
    (
        "Triazone and humic one to one",
        "Ridgecombe Turf Care (demo)",
        "Half urea-triazone, half humic extract, the largest humic share that is common practice.",
        {
            "recipe": [{"code": "TRIAZONE28", "pct": 50}, {"code": "HUMIC12", "pct": 50}],
            "fill": {"volume_gal": 265},
        },
    ),
)

#: Those a formulator has looked at; the customer's own order of another one waits for that.
REVIEWED: Final = ("Budget stabilised 28-0-0", "Triazone and humic one to one")

#: What cannot: name, company, note, wish.
DRAFTS: Final[tuple[tuple[str, str | None, str, dict[str, Any]], ...]] = (
    (
        "28-0-5 half slow, out of reach",
        "Plover Lane Lawns (demo)",
        "Too much nitrogen for so much potash; the page says how far each could go.",
        {
            "targets": [{"nutrient": "N", "min": 28}, {"nutrient": "K2O", "min": 5}],
            "slow_release_pct": {"min": 50},
            "fill": {"volume_gal": 265},
        },
    ),
    (
        "Triazone with ferrous sulfate, stopped by the iron rule",
        "Ridgecombe Turf Care (demo)",
        "Unchelated iron must not meet urea-triazone; take a chelate instead.",
        {
            "recipe": [
                {"code": "TRIAZONE28", "pct": 60},
                {"code": "UAN28", "pct": 30},
                {"code": "FESULF5", "pct": 10},
            ],
            "fill": {"volume_gal": 265},
        },
    ),
)
