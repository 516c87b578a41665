"""The planning page in a browser: two customers' orders become one load, at every width."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import User
from orders.models import Batch, Order, Tank
from orders.planning.actions.planning import plan_batches
from tests.factories import CompanyFactory
from tests.orders.planning.plant_cases import placed_order, save_half_slow


@pytest.fixture
def orders(shop: None, rep: User) -> list[Order]:
    revision = save_half_slow(rep, None)
    return [
        placed_order(rep, CompanyFactory(name=name), revision=revision, quantity=quantity)
        for name, quantity in (("Brookside Lawns", 1), ("Hilltop Turf", 2))
    ]


def test_orders_for_one_blend_are_planned_together(
    page_for: Callable[..., Page], orders: list[Order], plant_worker: User
) -> None:
    page = page_for(plant_worker)
    page.goto("/planning/")
    page.get_by_role("button", name="Plan together").click()
    expect(page.locator("main")).to_contain_text("Every open order is planned.")
    batch = Batch.objects.get()
    page.goto(f"/batches/{batch.number}/")
    for name in ("Brookside Lawns", "Hilltop Turf"):
        expect(page.locator("main")).to_contain_text(name)
    assert page.get_by_role("link", name="Label", exact=True).count() == 2


@pytest.mark.parametrize("width", [1280, 768, 390])
def test_planned_batches_are_combined_at_every_width(
    page_for: Callable[..., Page], orders: list[Order], plant_worker: User, width: int
) -> None:
    for order in orders:
        plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    page = page_for(plant_worker, width=width)
    page.goto("/planning/")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.get_by_role("button", name="Combine into 1 load").click()
    expect(page.locator("main")).to_contain_text("Combined into")
    assert Batch.objects.live().count() == 1
