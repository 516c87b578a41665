"""Labels of the demo blends: each blend ordered, planned and drawn as its label."""

import datetime as dt
from collections.abc import Mapping
from functools import cache, partial
from io import BytesIO
from typing import Any

from django.utils import timezone
from pypdf import PdfReader

from blendshop.accounts.models import Company, User
from blendshop.roles import Role
from formulas.blends.actions import save_blend
from formulas.engine_bridge import load_catalogue
from formulas.models import BlendRevision
from orders.demo.customers import BLENDS
from orders.demo.plant import PLANT
from orders.models import Batch, BatchPart, PlantProfile, ShipTo, Tank
from orders.planning.actions.planning import plan_batches
from tests.factories import CompanyFactory, ShipToFactory, UserFactory, make_price_setup
from tests.orders.labels.room_cases import with_room
from tests.orders.planning.plant_cases import placed_order
from tests.remembered_rows import RememberedRows
from tests.shipped_stocks import put_in_demo_stocks

#: Blends beyond the demo's that show what the demo's do not: iron and boron, everything organic.
FURTHER: Mapping[str, Mapping[str, Any]] = {
    "Iron and boron": {
        "targets": [
            {"nutrient": "N", "min": 15},
            {"nutrient": "P2O5", "min": 2},
            {"nutrient": "K2O", "min": 2},
            {"nutrient": "S", "min": 1},
            {"nutrient": "Fe", "min": 0.5},
            {"nutrient": "B", "min": 0.12},
        ],
        "exclude": ["FESULF5"],
        "fill": {"volume_gal": 265},
    },
    "Humic, fulvic and seaweed": {
        "recipe": [
            {"code": "TRIAZONE28", "pct": 60},
            {"code": "HUMIC12", "pct": 20},
            {"code": "FULVIC5", "pct": 10},
            {"code": "SEAWEED", "pct": 10},
        ],
        "fill": {"volume_gal": 265},
    },
}
WISHES: Mapping[str, Mapping[str, Any]] = {
    **{name: wish for name, _, _, wish in BLENDS},
    **FURTHER,
}
PLANNED_AT = dt.datetime(2026, 3, 9, 15, 0, tzinfo=dt.UTC)


def make_demo_plant() -> User:
    """The demo plant's stocks, costs and name block; returns somebody who may do everything."""
    make_price_setup()
    PlantProfile.objects.all().delete()
    PlantProfile.objects.create(**PLANT)
    formulator = UserFactory(
        email="maker@plant.example", name="Max Maker", role=Role.FORMULATOR, is_superuser=True
    )
    put_in_demo_stocks(formulator)
    return formulator


def label_part(formulator: User, name: str, *, state: str = "MD") -> BatchPart:
    """The part of a batch of two totes of a blend, with a fixed day and number."""
    company = CompanyFactory(name=f"Example Lawn Care of {state}")
    part: BatchPart = _planned(name, state)(formulator, company)
    return part


@cache
def _planned(name: str, state: str) -> RememberedRows:
    return RememberedRows(partial(_plan, name=name, state=state))


def _plan(formulator: User, company: Company, *, name: str, state: str) -> BatchPart:
    today = timezone.localdate()
    revision: BlendRevision = save_blend(
        acting_user=formulator,
        name=name,
        company=company,
        wish=dict(WISHES[name]),
        today=today,
        catalogue=load_catalogue(today),
    )
    ship_to: ShipTo = ShipToFactory(
        company=company, label="Main yard", state=state, county="Quillen", city="Amberly"
    )
    order = placed_order(formulator, company, revision=revision, ship_to=ship_to, quantity=2)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=formulator)
    with_room(batch)
    Batch.objects.filter(pk=batch.pk).update(number="B-2026-00107", created_at=PLANNED_AT)
    return BatchPart.objects.select_related("batch").get(batch=batch)


def text_of(pdf: bytes) -> str:
    """The text of a paper in reading order, line by line, read by another library."""
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
