"""Customers with an address, terms and a person each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group

from blendshop.accounts.models import Company, User
from blendshop.roles import Role
from orders.demo.large.size import PlantSize
from orders.models import CustomerTerms, FreightZone, PriceTier, ShipTo

AT_ONCE: Final = 2_000
#: Invented; together they make as many different names as there are customers.
_FIRST: Final = (
    "Alderbrook", "Briarfield", "Copperdale", "Dunmoor", "Elmsgate", "Fernhollow", "Gorsefield",
    "Hazelmere", "Inglewick", "Juniper Bend", "Kestrel Hill", "Larkmead", "Mossbank", "Nettleford",
    "Oxlip Lane", "Pinemarsh", "Quillcombe", "Rowanside", "Sedgewick", "Tarnfield",
)  # fmt: skip
_SECOND: Final = ("Lawns", "Turf", "Grounds", "Lawn Care", "Greens")
_STATES: Final = (("MD", "Quillen"), ("NY", "Tarn"))


def add_customers(size: PlantSize) -> Sequence[ShipTo]:
    """The customers' addresses, one each, the first customer's first."""
    companies = Company.objects.bulk_create(
        (
            Company(
                name=f"{_FIRST[n % len(_FIRST)]} {_SECOND[n // 20 % len(_SECOND)]} {n:04d} (demo)",
                phone="555-0100",
            )
            for n in range(size.customers)
        ),
        AT_ONCE,
    )
    tiers, zones = list(PriceTier.objects.all()), list(FreightZone.objects.all())
    CustomerTerms.objects.bulk_create(
        (
            CustomerTerms(company=company, tier=tiers[n % len(tiers)])
            for n, company in enumerate(companies)
        ),
        AT_ONCE,
    )
    no_password = make_password(None)
    people = User.objects.bulk_create(
        (
            User(
                email=f"owner{n}@large.example",
                name=f"Demo-Owner {n}",
                company=company,
                password=no_password,
            )
            for n, company in enumerate(companies)
        ),
        AT_ONCE,
    )
    group = Group.objects.get(name=Role.CUSTOMER.value)
    member = User.groups.through
    member.objects.bulk_create(
        (member(user_id=person.pk, group_id=group.pk) for person in people), AT_ONCE
    )
    return ShipTo.objects.bulk_create(
        (
            ShipTo(
                company=company,
                label="Yard",
                street=f"{n + 1} Demo Lane",
                city="Amberly",
                state=_STATES[n % 2][0],
                county=_STATES[n % 2][1],
                postal_code="00000",
                zone=zones[n % len(zones)],
            )
            for n, company in enumerate(companies)
        ),
        AT_ONCE,
    )
