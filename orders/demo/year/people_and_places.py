"""Customers of the demo's year in five states, their places and people. All invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: The second rep; the first is the demo's own.
SECOND_REP: Final = ("rep2@thistleford.example", "Noor Demo-Rep")
CUSTOMERS_PHONE: Final = "555-0142"
NEAR: Final = "Zone 1, within 30 miles"
FAR: Final = "Zone 2, 30 to 90 miles"
CONTRACT: Final = "Season contract"
STANDARD: Final = "Standard"


@dataclass(frozen=True, slots=True, kw_only=True)
class Customer:
    """Who buys: ``often`` beside the others, ``rep`` 0 or 1, always in one kind of package."""

    name: str
    tier: str
    label: str
    street: str
    city: str
    state: str
    county: str
    zone: str
    person: tuple[str, str]
    package: str
    blends: tuple[str, ...]
    often: float
    rep: int


SPRING: Final = "Spring quick 20-0-4"
HALF: Final = "Half slow 24-0-3"
IRON: Final = "Green-up 14-0-3 with iron"
FALL: Final = "Fall potash 14-0-9"
UREA: Final = "Urea and triazone, three to two"
BUDGET: Final = "Budget stabilised 28-0-0"
SUMMER: Final = "Summer half-slow with micros"
HUMIC: Final = "Triazone and humic one to one"


def _customer(
    name: str,
    place: tuple[str, str, str, str, str],
    person: tuple[str, str],
    blends: tuple[str, ...],
    often: float,
    rep: int,
    *,
    tier: str = STANDARD,
    zone: str = FAR,
    package: str = "tote-265",
) -> Customer:
    label, street, city, state, county = place
    return Customer(
        name=f"{name} (demo)",
        tier=tier,
        label=label,
        street=street,
        city=city,
        state=state,
        county=county,
        zone=zone,
        person=person,
        package=package,
        blends=blends,
        often=often,
        rep=rep,
    )


#: The first two are the demo's own; their places are added where they have none of the label.
CUSTOMERS: Final = (
    _customer(
        "Plover Lane Lawns",
        ("Main yard", "18 Plover Lane", "Amberly", "MD", "Quillen"),
        ("owner@ploverlane.example", "Dana Demo-Owner"),
        (SUMMER, BUDGET, SPRING), 1.6, 0, tier=CONTRACT, zone=NEAR,
    ),
    _customer(
        "Ridgecombe Turf Care",
        ("Depot", "77 Combe Hill", "Thistle Ford", "MD", "Quillen"),
        ("owner@ridgecombe.example", "Priya Demo-Owner"),
        (HUMIC, IRON), 1.0, 1,
    ),
    _customer(
        "Marlpit Green Services",
        ("Yard", "5 Marlpit Road", "Kestrel Bridge", "MD", "Tolland Vale"),
        ("owner@marlpit.example", "Sam Demo-Owner"),
        (HALF, FALL), 1.3, 0, tier=CONTRACT, zone=NEAR, package="tote-265-deposit",
    ),
    _customer(
        "Osier Brook Lawn Crews",
        ("Shop", "210 Osier Lane", "Wending", "PA", "Harrow Ridge"),
        ("owner@osierbrook.example", "Ruth Demo-Owner"),
        (SPRING, FALL, IRON), 1.4, 1,
    ),
    _customer(
        "Larkfield Grounds",
        ("Depot", "9 Larkfield Way", "Stonebeck", "PA", "Harrow Ridge"),
        ("owner@larkfield.example", "Ivo Demo-Owner"),
        (HALF, UREA), 0.9, 1, package="tote-265-own",
    ),
    _customer(
        "Tarn Valley Lawns",
        ("Barn", "41 Tarn Road", "Hale Cross", "NY", "Tarn"),
        ("owner@tarnvalley.example", "Mina Demo-Owner"),
        (HALF, IRON), 1.1, 1, tier=CONTRACT,
    ),
    _customer(
        "Sedge Hollow Turf",
        ("Yard", "3 Sedge Hollow", "Fallow Green", "NY", "Osprey"),
        ("owner@sedgehollow.example", "Theo Demo-Owner"),
        (SPRING, UREA), 0.7, 0,
    ),
    _customer(
        "Dunmere Lawn Company",
        ("Main yard", "600 Dunmere Pike", "Cobble Run", "VA", "Lindley"),
        ("owner@dunmere.example", "Greta Demo-Owner"),
        (BUDGET, SPRING, FALL), 1.5, 0, tier=CONTRACT, package="tote-265-deposit",
    ),
    _customer(
        "Whinstone Turf Partners",
        ("Shed", "12 Whinstone Court", "Aldermill", "VA", "Lindley"),
        ("owner@whinstone.example", "Paul Demo-Owner"),
        (HALF, IRON), 0.8, 0,
    ),
    _customer(
        "Copperbeech Estates Care",
        ("Yard", "88 Beech Row", "Windle", "VA", "Marrow"),
        ("owner@copperbeech.example", "Asha Demo-Owner"),
        (UREA,), 0.5, 1,
    ),
    _customer(
        "Saltmarsh Lawn and Field",
        ("Depot", "14 Saltmarsh Road", "Reedham Point", "DE", "Inlet"),
        ("owner@saltmarsh.example", "Nils Demo-Owner"),
        (SPRING, HALF), 1.0, 1, zone=NEAR,
    ),
    _customer(
        "Thornbury Athletic Fields",
        ("Field house", "1 Thornbury Park", "Millgate", "DE", "Inlet"),
        ("owner@thornbury.example", "Vera Demo-Owner"),
        (FALL, IRON), 0.6, 0, zone=NEAR,
    ),
    _customer(
        "Heron Ford Lawn Service",
        ("Yard", "27 Ford Street", "Lower Heron", "PA", "Brindle"),
        ("owner@heronford.example", "Otto Demo-Owner"),
        (BUDGET, HALF), 0.9, 0,
    ),
)  # fmt: skip
