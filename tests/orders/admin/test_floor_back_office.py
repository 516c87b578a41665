"""The plant floor's records in the back office: found by their codes, and never edited there."""

from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.roles import Role
from orders.models import Charge, PackageSerial, QualityReading, StockLot, StockMovement
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import fill_packages
from tests.factories import UserFactory
from tests.orders.production.charging_cases import (
    charged_and_made,
    new_key,
    read_density,
)

MODELS = (StockLot, StockMovement, Charge, QualityReading, PackageSerial)


@pytest.fixture
def filled(batch, plant_worker):
    """Charged, released, one package filled."""
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    fill_packages(
        part=batch.parts.get(), net_lb=[Decimal(2700)], key=new_key(), acting_user=plant_worker
    )
    return batch


@pytest.fixture(params=[Role.OFFICE, Role.FORMULATOR])
def client_of_role(request, signed_in, db):
    return signed_in(UserFactory(role=request.param, is_staff=True))


def page(client, model, name="changelist", args=(), **search):
    return client.get(reverse(f"admin:orders_{model._meta.model_name}_{name}", args=args), search)


def test_office_and_formulator_look_and_do_not_touch(filled, client_of_role):
    for model in MODELS:
        assert page(client_of_role, model).status_code == 200, model
        assert page(client_of_role, model, "add").status_code == 403, model
        row = model.objects.first()
        detail = page(client_of_role, model, "change", [row.pk])
        assert detail.status_code == 200, model
        assert 'name="_save"' not in detail.content.decode(), model
        deleting = reverse(f"admin:orders_{model._meta.model_name}_delete", args=[row.pk])
        assert client_of_role.post(deleting, {"post": "yes"}).status_code == 403, model


def test_a_lot_and_its_movements_are_found_by_its_code(filled, client_of_role):
    lot = StockLot.objects.first()
    assert lot.code in page(client_of_role, StockLot, q=lot.code).content.decode()
    found = page(client_of_role, StockMovement, q=lot.code).content.decode()
    assert "received" in found
    found = page(client_of_role, StockMovement, q=filled.number).content.decode()
    assert f"{StockMovement.objects.filter(batch=filled).count()} stock movements" in found
    assert "0 stock movements" in page(client_of_role, StockMovement, q="L-1999-1").content.decode()
