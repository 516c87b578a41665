"""The office agrees what a customer orders by itself, and who orders for it."""

from decimal import Decimal
from importlib import import_module

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.urls import reverse

from blendshop.accounts.models import SecurityEvent
from blendshop.errors import NotAllowed
from formulas.blends.reviews import is_reviewed
from formulas.models import RecipeReview
from orders.customers.actions import set_limits, set_may_order
from orders.models import Order, OrderLimits
from tests.factories import CompanyFactory
from tests.orders.planning.plant_cases import placed_order

STEP = "0026_ordered_before_the_gate"


def test_limits_are_set_on_their_page_and_empty_is_no_limit(company, office, rep, signed_in):
    client, url = signed_in(office), reverse("customer_limits", args=[company.pk])
    sent = {"most_gal": "530", "most_total": "", "most_open": "-1", "sees_recipe": "on"}
    refused = client.post(url, sent)
    assert refused.status_code == 400
    assert not OrderLimits.objects.exists()
    assert client.post(url, {**sent, "most_open": "9000"}).status_code == 302
    limits = OrderLimits.objects.get()
    assert (limits.most_gal, limits.most_total, limits.most_open) == (530, None, Decimal(9000))
    assert limits.confirmed_by == office
    company.refresh_from_db()
    assert company.sees_recipe
    assert limits.history.get().history_user == office
    with pytest.raises(NotAllowed):
        set_limits(acting_user=rep, company=company, most_gal=1, most_total=None, most_open=None)


def test_the_list_holds_what_nobody_has_confirmed(company, office, signed_in):
    CompanyFactory(name="Newcomer Turf")
    OrderLimits.objects.create(company=company, most_gal=795)
    client, url = signed_in(office), reverse("limits_list")
    page = client.get(url).content.decode()
    assert "795" in page
    assert "Newcomer Turf" in page
    client.post(reverse("customer_limits_confirm", args=[company.pk]))
    page = client.get(url).content.decode()
    assert company.name not in page.split("<table", 1)[1]
    assert company.name in client.get(url, {"all": "1"}).content.decode()


def test_who_may_order_is_the_offices_to_say_and_stands_in_the_log(
    company, customer, office, rep, signed_in
):
    url = reverse("customer_may_order", args=[company.pk, customer.pk])
    for _ in range(2):
        signed_in(office).post(url, {"may_order": "no"})
    customer.refresh_from_db()
    assert not customer.may_order
    line = SecurityEvent.objects.get(kind="access_changed")
    assert (line.whom, line.what) == (customer, "may look and not order")
    with pytest.raises(NotAllowed):
        set_may_order(acting_user=rep, person=customer, may_order=True)


def test_a_plant_that_was_working_goes_on_as_it_could(revision, rep, customer, company):
    """The migration forward, on rows of before, and back."""
    order = placed_order(rep, company, quantity=2, revision=revision, is_reviewed=False)
    step = import_module(f"orders.migrations.{STEP}")
    newcomer = CompanyFactory(name="Newcomer Turf")
    steps = MigrationLoader(connection, replace_migrations=False)
    then = steps.project_state([("orders", STEP)]).apps
    step.keep_what_was_ordered(then, None)
    assert is_reviewed(revision)
    assert revision.reviews.get().who == "ordered before reviews existed"
    limits = OrderLimits.objects.get()
    assert (limits.company, limits.confirmed_at) == (company, None)
    assert (limits.most_gal, limits.most_total, limits.most_open) == (
        1590, 3 * order.total, 3 * order.total,
    )  # fmt: skip
    assert not hasattr(newcomer, "order_limits"), "all it orders is a request"
    assert customer.may_order
    Order.objects.filter(pk=order.pk).update(status="requested")
    step.as_before_the_gate(then, None)
    assert not OrderLimits.objects.exists()
    assert not RecipeReview.objects.exists()
    assert Order.objects.get().status == "cancelled"
