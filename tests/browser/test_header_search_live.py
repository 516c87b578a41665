"""The search in the header: one key from every page, and none that somebody types elsewhere."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from orders.models import Order
from tests.orders.planning.plant_cases import make_shop, placed_order


@pytest.mark.parametrize("width", [1280, 390])
def test_a_key_leads_to_the_search_and_what_is_found_fits(
    page_for: Callable[..., Page], rep: User, office: User, company: Company, width: int
) -> None:
    make_shop()
    order: Order = placed_order(rep, company)
    page = page_for(office, width=width)
    page.goto("/changes/?record=x")
    field = page.locator("#header-search")
    page.get_by_label("Record").press("/")
    expect(field).not_to_be_focused()
    page.locator("h1").click()
    page.keyboard.press("/")
    expect(field).to_be_focused()
    page.keyboard.type(company.name[:6])
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.get_by_role("link", name=order.number)).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    field.fill(order.number)
    with page.expect_navigation():
        field.press("Enter")
    assert page.url.endswith(f"/orders/{order.number}/")
