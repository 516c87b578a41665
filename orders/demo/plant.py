"""Demo data of the plant: people, price policy, packages, trucks, tanks. All of it invented."""

from datetime import date
from decimal import Decimal
from typing import Any, Final

from blendshop.roles import Role

PASSWORD: Final = "tote-by-tote-2026"  # noqa: S105 - public on purpose, debug only

PLANT: Final[dict[str, Any]] = {
    "name": "Thistle Ford Liquids (demo plant)",
    "address": "4 Millrace Road, Thistle Ford, Quillen County, MD 00000",
    "phone": "555-0140",
    "email": "office@thistleford.example",
    "licence_note": "Licence number: demo, none",
    "quote_terms": (
        "Prices hold until the day named above and for the quantities quoted. Rates, setbacks and "
        "dates allowed on a lawn are set by state and local law; check them before spraying. "
        "Guarantees are a draft for review until the label is registered where that is required."
    ),
    "quote_validity_days": 30,
    "payment_terms": "net 30 days (demo)",
}

REP_PHONE: Final = "555-0141"
#: (email, name, roles)
STAFF: Final = (
    ("rep@thistleford.example", "Marit Demo-Rep", (Role.REP,)),
    ("plant@thistleford.example", "Jonas Demo-Blender", (Role.PLANT,)),
    ("formulator@thistleford.example", "Ines Demo-Formulator", (Role.FORMULATOR,)),
    ("office@thistleford.example", "Tomas Demo-Office", (Role.OFFICE,)),
)

POLICY: Final[dict[str, Any]] = {
    "effective_from": date(2026, 1, 1),
    "shrink_pct": Decimal("1.50"),
    "batch_fee": Decimal("95.00"),
    "blend_fee_per_gal": Decimal("0.1800"),
    "lab_fee_per_batch": Decimal("48.00"),
    "note": "demo figures, invented",
}
#: name, margin, floor, default
TIERS: Final = (
    ("Standard", Decimal("24.00"), Decimal("14.00"), True),
    ("Season contract", Decimal("18.00"), Decimal("12.00"), False),
)
#: above so many gallons, points off
BREAKS: Final = ((530, Decimal("2.00")), (1325, Decimal("4.00")))

PACKAGES: Final[tuple[dict[str, Any], ...]] = (
    {
        "code": "drum-50",
        "name": "50 gal drum",
        "plural_name": "50 gal drums",
        "kind": "drum",
        "fill_gal": Decimal(50),
        "tare_lb": Decimal(23),
        "max_gross_lb": Decimal(800),
        "price": Decimal("42.00"),
    },
    {
        "code": "tote-265",
        "name": "265 gal tote",
        "plural_name": "265 gal totes",
        "kind": "tote_sold",
        "fill_gal": Decimal(265),
        "tare_lb": Decimal(130),
        "max_gross_lb": Decimal(4400),
        "price": Decimal("145.00"),
    },
    {
        "code": "tote-265-deposit",
        "name": "265 gal tote on deposit",
        "plural_name": "265 gal totes on deposit",
        "kind": "tote_deposit",
        "fill_gal": Decimal(265),
        "tare_lb": Decimal(130),
        "max_gross_lb": Decimal(4400),
        "price": Decimal("18.00"),
        "deposit": Decimal("150.00"),
    },
    {
        "code": "tote-265-own",
        "name": "customer's own 265 gal tote",
        "plural_name": "customer's own 265 gal totes",
        "kind": "tote_returned",
        "fill_gal": Decimal(265),
        "tare_lb": Decimal(130),
        "max_gross_lb": Decimal(4400),
        "price": Decimal("15.00"),
    },
    {
        "code": "bulk",
        "name": "bulk tanker",
        "plural_name": "bulk gallons",
        "kind": "bulk",
        "fill_gal": Decimal(0),
        "max_gross_lb": None,
    },
)

#: name, per load, per package, per bulk gal, minimum, collected by the customer
ZONES: Final = (
    ("Collected at the plant", "0.00", "0.00", "0.0000", "0.00", True),
    ("Zone 1, within 30 miles", "120.00", "14.00", "0.0500", "95.00", False),
    ("Zone 2, 30 to 90 miles", "240.00", "22.00", "0.0900", "180.00", False),
)
TRUCKS: Final[tuple[dict[str, Any], ...]] = (
    {
        "name": "deck truck",
        "kind": "deck",
        "empty_lb": Decimal(34000),
        "gross_limit_lb": Decimal(80000),
        "package_places": 20,
    },
    {
        "name": "tanker",
        "kind": "tanker",
        "empty_lb": Decimal(32000),
        "gross_limit_lb": Decimal(80000),
        "capacity_gal": Decimal(5000),
    },
)
TANKS: Final = (
    {
        "name": "Mix tank A",
        "capacity_gal": 600,
        "smallest_gal": 40,
        "scale_step_lb": 1.0,
        "fine_step_lb": 0.1,
        "fine_max_lb": 100.0,
    },
    {"name": "Mix tank B", "capacity_gal": 1500, "smallest_gal": 250, "scale_step_lb": 2.0},
)
