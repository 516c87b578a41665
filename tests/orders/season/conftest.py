"""A season of 40 acres in Maryland: two properties, three rounds of the half-slow blend."""

from datetime import date

import pytest

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import (
    Package,
    ProgramProperty,
    ProgramRound,
    Property,
    SeasonProgram,
    ShipTo,
)
from tests.factories import ShipToFactory, today

YEAR = today().year + 1
RATES = {"Spring": (4, 0.7), "Summer": (6, 0.9), "Fall": (9, 0.5)}


@pytest.fixture
def place(company: Company) -> ShipTo:
    found: ShipTo = ShipToFactory(company=company)
    return found


@pytest.fixture
def properties(company: Company) -> list[Property]:
    return [
        Property.objects.create(
            company=company, name=name, acres=acres, state="MD", county="Test", grass="tall_fescue"
        )
        for name, acres in (("Route A", 25.0), ("Route B", 15.0))
    ]


@pytest.fixture
def program(
    company: Company,
    rep: User,
    revision: BlendRevision,
    place: ShipTo,
    properties: list[Property],
) -> SeasonProgram:
    found = SeasonProgram.objects.create(
        company=company,
        name="Lawns",
        year=YEAR,
        ship_to=place,
        package=Package.objects.get(code="tote-265"),
        made_by=rep,
    )
    ProgramProperty.objects.bulk_create(
        ProgramProperty(program=found, property=each) for each in properties
    )
    for name, (month, rate) in RATES.items():
        ProgramRound.objects.create(
            program=found,
            name=name,
            on=date(YEAR, month, 20),
            revision=revision,
            n_rate_lb_per_1000sqft=rate,
        )
    return found
