"""Who keeps the spreads of assays and scale, and what the database refuses."""

from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from blendshop.accounts.models import User
from formulas.models import BaseStock
from orders.models import PlantSpread, StockSpread
from tests.factories import make_simple_catalogue

SignIn = Callable[[User], Client]
LIST = "admin:orders_{}_changelist"


@pytest.mark.parametrize("model", ["plantspread", "stockspread"])
def test_office_and_formulator_keep_spreads_and_nobody_else(
    office: User, formulator: User, rep: User, customer: User, signed_in: SignIn, model: str
) -> None:
    url = reverse(LIST.format(model))
    for keeper in (office, formulator):
        assert signed_in(keeper).get(url).status_code == 200
    for other in (rep, customer):
        assert signed_in(other).get(url).status_code == 302


def test_a_formulator_sets_the_spread_of_a_stock(formulator: User, signed_in: SignIn) -> None:
    make_simple_catalogue()
    stock = BaseStock.objects.get(code="TRZ")
    typed = {
        "stock": stock.pk,
        "strength_rsd_pct": "1.5",
        "total_n_rsd_pct": "0",
        "source": "certificates of 2026",
    }
    client = signed_in(formulator)
    url = reverse("admin:orders_stockspread_add")
    assert client.post(url, typed).status_code == 302
    assert StockSpread.objects.get().strength_rsd_pct == 1.5
    refused = client.post(url, typed | {"stock": "", "strength_rsd_pct": "31"})
    assert refused.status_code == 200
    assert StockSpread.objects.count() == 1


def test_there_is_one_set_of_plant_spreads(office: User, signed_in: SignIn) -> None:
    PlantSpread.objects.create(usual_rsd_pct=0.8)
    PlantSpread(usual_rsd_pct=0.9).save()
    assert PlantSpread.load().usual_rsd_pct == 0.9
    assert PlantSpread.objects.count() == 1
    assert signed_in(office).get(reverse("admin:orders_plantspread_add")).status_code == 403


@pytest.mark.parametrize("wrong", [{"usual_rsd_pct": -1.0}, {"scale_absolute_lb": -1.0}])
def test_the_database_refuses_a_spread_that_cannot_be(db: None, wrong: dict[str, float]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        PlantSpread.objects.create(**wrong)
