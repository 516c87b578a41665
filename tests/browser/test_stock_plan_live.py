"""The stock plan in a browser: begun, reloaded, accepted at any width, read on a phone."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from orders.models import AcceptedStockPlan, Order, PlannedRecipe
from tests.jobs.queue_cases import run_due
from tests.orders.allocation.stock_plan_cases import (
    make_plan_shop,
    make_scarce,
    make_two,
    planned,
)
from tests.orders.planning.plant_cases import save_half_slow

PageFor = Callable[..., Page]


@pytest.fixture
def scarce(transactional_db: None, rep: User, company: Company, formulator: User) -> list[Order]:
    """Two orders and UAN for the first of them."""
    make_plan_shop()
    two = make_two(save_half_slow(rep, company), rep, company)
    return list(make_scarce(two, formulator))


def _fits(page: Page, width: int) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_a_plan_is_worked_out_looked_at_again_and_accepted(
    page_for: PageFor, scarce: list[Order], formulator: User
) -> None:
    page = page_for(formulator, width=1280)
    page.goto("/stock/plan/")  # without a plan it is begun by itself
    expect(page.locator("#work-words")).to_have_text("It waits for its turn.")
    page.reload()
    expect(page.get_by_role("progressbar")).to_be_visible()
    _fits(page, 1280)
    run_due()
    making = page.get_by_role("region", name="Order of making")  # it leads on by itself
    expect(making).to_contain_text("Now, with another recipe")
    expect(making).to_contain_text("strong urea solution, new in it")
    for width in (390, 768, 1280):
        page.set_viewport_size({"width": width, "height": 800})
        _fits(page, width)
    page.get_by_role("button", name="Accept this plan").click()
    expect(page.locator("main")).to_contain_text("Accepted as SP-")
    run_due()
    expect(making).not_to_contain_text("with another recipe")
    plan, recipe = AcceptedStockPlan.objects.get(), PlannedRecipe.objects.get()
    expect(page.locator("main")).to_contain_text(f"Last accepted: {plan.number}")
    assert recipe.plan == plan
    assert recipe.order_line.order in scarce
    row = making.get_by_role("row", name=recipe.order_line.order.number)
    expect(row).to_contain_text("Now, by the accepted plan")
    making.get_by_text("Back to the accepted recipe").click()
    expect(making.get_by_label("Reason")).to_be_visible()
    _fits(page, 1280)


def test_on_a_phone_each_figure_stands_under_its_name_and_nothing_scrolls_aside(
    page_for: PageFor, scarce: list[Order], plant_worker: User
) -> None:
    planned(plant_worker)
    page = page_for(plant_worker, width=390, height=800)
    page.goto("/stock/plan/")
    for name in ("Order of making", "Stock of the plan"):
        region = page.get_by_role("region", name=name)
        assert region.evaluate("each => each.scrollWidth <= each.clientWidth"), name
        columns = region.get_by_role("columnheader").all_inner_texts()
        row = region.locator("tbody tr").first
        named = row.locator("[data-label]").evaluate_all(
            "cells => cells.map(cell => cell.dataset.label)"
        )
        assert named == columns[-len(named) :]  # a stock's own name needs no heading
    uan = page.get_by_role("region", name="Stock of the plan").locator("tr", has_text="UAN")
    boxes = [cell.bounding_box() for cell in uan.locator("td").all()]
    assert all(box is not None and box["x"] + box["width"] <= 390 for box in boxes)
