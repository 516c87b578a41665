"""The demo loads once, shows one thing of each, and stays out of production."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from blendshop.accounts.models import User
from blendshop.errors import NotAllowed
from formulas.answers.answer import OutOfReachAnswer
from formulas.contracts.formulation import formulate
from formulas.engine_bridge import load_catalogue
from formulas.models import Blend, DraftWish
from orders.demo.actions import load_demo
from orders.labels.waiting import labels_here, waiting_labels
from orders.models import (
    Batch,
    HandoverNote,
    LabelApproval,
    Order,
    Quote,
    RetainedSample,
    ScaleVerification,
    StockLot,
    Tank,
    TankCleaning,
)
from orders.shift.page import day_page
from orders.tanks.heel import EmptyTank, heel_of, holds_batch

TABLES = (
    Blend, DraftWish, Quote, Order, Batch, StockLot, ScaleVerification, RetainedSample,
    HandoverNote, TankCleaning,
)  # fmt: skip


pytestmark = pytest.mark.django_db  # pytest-django prepares only databases that marks ask for


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Loaded once for this file; what a test writes is taken back behind it."""
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(DEBUG=True):
            load_demo(today=timezone.localdate())
        yield
        transaction.set_rollback(True)


def test_loading_twice_changes_nothing(demo: None, settings: Any) -> None:
    settings.DEBUG = True
    before = [model.objects.count() for model in TABLES]
    logins = load_demo(today=timezone.localdate())
    assert [model.objects.count() for model in TABLES] == before
    assert {login.role.split(",")[0] for login in logins} == {
        "rep", "plant", "formulator", "office", "customer",
    }  # fmt: skip


def test_each_demo_blend_shows_what_it_is_for(demo: None) -> None:
    catalogue = load_catalogue(timezone.localdate())
    budget = Blend.objects.get(name__startswith="Budget").latest
    assert budget.analysis["N"] >= 28 - 1e-6
    assert {"NBPT", "DCD"} <= set(budget.analysis)
    summer = Blend.objects.get(name__startswith="Summer").latest
    assert summer.slow_release_pct is not None
    assert summer.slow_release_pct >= 50 - 1e-6
    assert {"Fe", "Mn", "Zn"} <= set(summer.analysis)
    humic = Blend.objects.get(name__startswith="Triazone and humic").latest
    assert {line.stock.code: line.pct for line in humic.lines.select_related("stock")} == {
        "TRIAZONE28": 50.0,
        "HUMIC12": 50.0,
    }
    reach = DraftWish.objects.get(name__contains="out of reach")
    body = reach.wished.contract_json()
    assert isinstance(formulate(body, catalogue=catalogue).answer, OutOfReachAnswer)
    iron = DraftWish.objects.get(name__contains="iron rule")
    warnings = formulate(iron.wished.contract_json(), catalogue=catalogue).answer.warnings
    assert any("iron" in w.message and w.severity == "stop" for w in warnings)


def test_the_demo_plans_onto_tanks_that_somebody_signed(demo: None) -> None:
    small, large = Tank.objects.order_by("name")
    assert isinstance(heel_of(large), EmptyTank)
    plan = Batch.objects.get(tank=large).load_plan
    assert plan.has_tolerances
    assert plan.cleanout.previous_product == "none, empty and rinsed"
    assert all(step.lots for step in plan.steps if not step.is_water)
    made = Batch.objects.get(tank=small)
    assert made.status == Batch.Status.RELEASED
    assert holds_batch(made)


def test_one_label_of_the_demo_is_approved_and_one_waits(demo: None) -> None:
    formulator = User.objects.get(name__contains="Demo-Formulator")
    assert LabelApproval.objects.get().by == formulator
    (waiting,) = waiting_labels(labels_here(formulator))
    assert waiting.first.part.product_name.startswith("Triazone and humic")


def test_the_demo_plants_day_has_something_of_each(demo: None) -> None:
    worker = User.objects.get(email="plant@thistleford.example")
    page = day_page(worker, timezone.localdate())
    assert [each.state.value for each in page["scales"]] == ["overdue", "verified", "verified"]
    assert (len(page["samples"].overdue), page["samples"].kept) == (1, 2)
    assert page["notes"][0].note.text.startswith("Demo note.")
    assert [each.kind.value for each in page["undone"]] == ["fill", "ship"]
    assert TankCleaning.objects.get().note == "Demo data."


def test_the_demo_refuses_to_load_in_production(settings: Any) -> None:
    settings.DEBUG = False
    before = Blend.objects.count()
    with pytest.raises(NotAllowed):
        load_demo(today=timezone.localdate())
    assert Blend.objects.count() == before
