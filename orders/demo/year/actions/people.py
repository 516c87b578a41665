"""Customers in five states with their people, and who works at the plant."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.contrib.auth.models import Group

from blendshop.accounts.models import Company, User
from blendshop.roles import Role
from orders.demo import plant
from orders.demo.year.people_and_places import CUSTOMERS, CUSTOMERS_PHONE, SECOND_REP
from orders.models import CustomerTerms, FreightZone, Package, PriceTier, ShipTo


@dataclass(frozen=True, slots=True)
class Place:
    """Where a customer of the year takes delivery, in what, and who answers there."""

    ship_to: ShipTo
    package: Package
    person: User

    @property
    def company(self) -> Company:
        return self.ship_to.company


@dataclass(frozen=True, slots=True)
class People:
    """Who did all of it; ``places`` by the customer's name."""

    reps: tuple[User, User]
    plant: User
    formulator: User
    office: User
    places: Mapping[str, Place]


def add_people() -> People:
    """The second rep and all customers, beside what the demo has already."""
    staff = {
        role: User.objects.get(email=email) for email, _, roles in plant.STAFF for role in roles
    }
    rep = staff[Role.REP]
    packages = {package.code: package for package in Package.objects.all()}
    zones = {zone.name: zone for zone in FreightZone.objects.all()}
    tiers = {tier.name: tier for tier in PriceTier.objects.all()}
    places = {}
    for each in CUSTOMERS:
        company, _new = Company.objects.get_or_create(name=each.name)
        CustomerTerms.objects.get_or_create(company=company, defaults={"tier": tiers[each.tier]})
        ship_to, _new = ShipTo.objects.get_or_create(
            company=company,
            label=each.label,
            defaults={
                "street": each.street,
                "city": each.city,
                "state": each.state,
                "county": each.county,
                "postal_code": "00000",
                "zone": zones[each.zone],
            },
        )
        person = _person(each.person, Role.CUSTOMER, rep, company)
        places[each.name] = Place(ship_to, packages[each.package], person)
    return People(
        reps=(rep, _person(SECOND_REP, Role.REP, rep)),
        plant=staff[Role.PLANT],
        formulator=staff[Role.FORMULATOR],
        office=staff[Role.OFFICE],
        places=places,
    )


def _person(said: tuple[str, str], role: Role, like: User, company: Company | None = None) -> User:
    """With the demo's one password, which is hashed once."""
    email, name = said
    person = User.objects.filter(email=email).first()
    if person is None:
        person = User.objects.create(
            email=email,
            password=like.password,
            name=name,
            company=company,
            is_owner=company is not None,
            phone=plant.REP_PHONE if role is Role.REP else CUSTOMERS_PHONE,
        )
        person.groups.add(Group.objects.get(name=role.value))
    return person
