"""Factories with sensible defaults; every figure in them is invented for tests."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

import factory
from django.contrib.auth.models import Group
from django.utils import timezone

from blendshop.accounts.models import Company, User
from blendshop.roles import STAFF, Role
from formulas.models import AnalysisFigure, BaseStock, CompatibilityRule, Mark, StockCost, Trait
from orders.frozen.tank_contents import TankContents, TankState
from orders.models import (
    CustomerTerms,
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    ShipTo,
    Tank,
    TankEntry,
    Truck,
)
from tests.remembered_rows import RememberedRows

SOURCE = "test data, invented"
PASSWORD = "swordfish-and-chips"


class CompanyFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Company

    name = factory.Sequence(lambda n: f"Test Lawn Company {n}")


class UserFactory(factory.django.DjangoModelFactory):
    """``UserFactory(role=Role.REP)``; the password is ``PASSWORD``."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    email = factory.Sequence(lambda n: f"person{n}@plant.example")
    name = factory.Sequence(lambda n: f"Person {n}")

    @classmethod
    def _create(cls, model_class: type[User], *args: Any, **kwargs: Any) -> User:
        role: Role | None = kwargs.pop("role", None)
        kwargs.setdefault("is_staff", role in {Role.OFFICE, Role.FORMULATOR})
        user = model_class.objects.create_user(password=PASSWORD, **kwargs)
        if role is not None:
            user.groups.add(Group.objects.get(name=role.value))
        assert role not in STAFF or user.company_id is None
        return user


class TraitFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Trait
        django_get_or_create = ("code",)

    code = "nitrate"
    name = factory.LazyAttribute(lambda trait: trait.code.replace("_", " "))


class BaseStockFactory(factory.django.DjangoModelFactory):
    """``BaseStockFactory(analysis={"N.urea": 20.0}, traits=["urea"], cost_per_lb="0.20")``."""

    class Meta:
        model = BaseStock
        skip_postgeneration_save = True

    code = factory.Sequence(lambda n: f"STOCK{n}")
    name = factory.LazyAttribute(lambda stock: f"{stock.code.lower()} solution")
    derived_from = factory.LazyAttribute(lambda stock: stock.name)
    density_lb_per_gal = 10.0
    density_source = SOURCE
    density_mark = Mark.DEMO

    @factory.post_generation
    def analysis(self, create: bool, extracted: dict[str, float] | None, **kwargs: Any) -> None:
        AnalysisFigure.objects.bulk_create(
            AnalysisFigure(stock=self, key=key, pct=pct, source=SOURCE, mark=Mark.DEMO)
            for key, pct in (extracted or {}).items()
        )

    @factory.post_generation
    def traits(self, create: bool, extracted: list[str] | None, **kwargs: Any) -> None:
        if extracted:
            self.traits.add(*[TraitFactory(code=code) for code in extracted])

    @factory.post_generation
    def cost_per_lb(self, create: bool, extracted: str | None, **kwargs: Any) -> None:
        if extracted is not False:
            StockCost.objects.create(
                stock=self,
                effective_from=date(2020, 1, 1),
                amount=Decimal(extracted or "0.20"),
                unit="lb",
                note=SOURCE,
            )


class CompatibilityRuleFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = CompatibilityRule

    trait_a = factory.SubFactory(TraitFactory, code="calcium")
    trait_b = factory.SubFactory(TraitFactory, code="phosphate")
    effect = CompatibilityRule.Effect.BLOCKS
    reason = "calcium phosphate drops out"
    source = SOURCE
    mark = Mark.DEMO


class PlantProfileFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PlantProfile

    name = "Test Plant"
    address = "1 Test Road, Testville"


class PriceTierFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PriceTier
        django_get_or_create = ("name",)

    name = "standard"
    margin_pct = Decimal("25.00")
    floor_pct = Decimal("12.00")
    is_default = True


class PricePolicyFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = PricePolicy

    effective_from = date(2020, 1, 1)
    shrink_pct = Decimal("1.50")
    batch_fee = Decimal("85.00")
    blend_fee_per_gal = Decimal("0.1200")
    lab_fee_per_batch = Decimal("40.00")


class FreightZoneFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = FreightZone
        django_get_or_create = ("name",)

    name = "Zone A"
    per_load = Decimal("150.00")
    per_package = Decimal("20.00")
    per_gal = Decimal("0.0500")
    minimum = Decimal("95.00")


class ShipToFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = ShipTo

    company = factory.SubFactory(CompanyFactory)
    label = factory.Sequence(lambda n: f"Yard {n}")
    street = "12 Test Lane"
    city = "Testville"
    state = "MD"
    county = "Test"
    postal_code = "00000"
    zone = factory.SubFactory(FreightZoneFactory)


class CustomerTermsFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = CustomerTerms

    company = factory.SubFactory(CompanyFactory)
    tier = factory.SubFactory(PriceTierFactory)


class PackageFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Package
        django_get_or_create = ("code",)

    code = "tote-265"
    name = "265 gal tote"
    plural_name = "265 gal totes"
    kind = Package.Kind.TOTE_SOLD
    fill_gal = Decimal("265.00")
    tare_lb = Decimal("130.00")
    max_gross_lb = Decimal("4200.00")
    price = Decimal("120.00")


class TruckFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Truck
        django_get_or_create = ("name",)

    name = "deck truck"
    kind = Truck.Kind.DECK
    empty_lb = Decimal("33000.00")
    gross_limit_lb = Decimal("80000.00")
    package_places = 20


class TankFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Tank
        django_get_or_create = ("name",)
        skip_postgeneration_save = True

    name = "Tank 1"
    capacity_gal = 1200
    smallest_gal = 100
    scale_step_lb = 1.0

    @factory.post_generation
    def signed(self, create, extracted, **kwargs):
        """Empty and rinsed, as somebody signed; ``signed=False`` leaves what is in it unknown."""
        if create and extracted is not False and not self.ledger.exists():
            TankEntry.objects.create(
                tank=self,
                kind=TankEntry.Kind.LOOKED,
                contents=TankContents(state=TankState.EMPTY).to_json(),
                key=f"signed-{self.pk}-{self.name}",
                who="Test",
            )


def make_price_setup() -> None:
    """Everything a price needs besides a blend: policy, tier, packages, trucks, tank, plant."""
    PlantProfileFactory()
    PriceTierFactory()
    PricePolicyFactory()
    PackageFactory()
    TruckFactory()
    TruckFactory(name="tanker", kind=Truck.Kind.TANKER, package_places=None, capacity_gal=4500)
    TankFactory()


def _simple_catalogue() -> dict[str, BaseStock]:
    return {
        "UAN": BaseStockFactory(
            code="UAN",
            name="urea ammonium nitrate solution",
            density_lb_per_gal=11.06,
            analysis={"N.urea": 16.4, "N.ammoniacal": 7.8, "N.nitrate": 7.8},
            traits=["nitrate", "ammonium", "urea"],
            charging_rank=40,
            cost_per_lb="0.1800",
        ),
        "TRZ": BaseStockFactory(
            code="TRZ",
            name="urea-triazone solution",
            density_lb_per_gal=10.7,
            analysis={"N.urea": 7.84, "N.slow": 20.16},
            traits=["urea_triazone"],
            charging_rank=70,
            cost_per_lb="0.4200",
        ),
        "KAC": BaseStockFactory(
            code="KAC",
            name="potassium acetate solution",
            density_lb_per_gal=10.65,
            analysis={"K2O": 24.0},
            charging_rank=50,
            cost_per_lb="0.3900",
        ),
        "FES": BaseStockFactory(
            code="FES",
            name="ferrous sulfate solution",
            density_lb_per_gal=9.56,
            analysis={"Fe": 5.1, "S": 2.9},
            traits=["unchelated_iron"],
            charging_rank=80,
            cost_per_lb="0.1500",
        ),
        "WATER": BaseStockFactory(
            code="WATER",
            name="water",
            derived_from="",
            density_lb_per_gal=8.33,
            traits=["water"],
            charging_rank=10,
            cost_per_lb="0.0010",
        ),
    }


_SIMPLE_CATALOGUE: Final = RememberedRows(_simple_catalogue, apps=frozenset({"formulas"}))


def make_simple_catalogue() -> dict[str, BaseStock]:
    """Five stocks from which a 24 % N, half-slow, some-potash blend can be made."""
    catalogue: dict[str, BaseStock] = _SIMPLE_CATALOGUE()
    return catalogue


def today() -> date:
    return timezone.localdate()


def in_days(days: int) -> date:
    return today() + timedelta(days=days)
