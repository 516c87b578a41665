"""A customer orders again from home on a phone: one tap shows price and date, the next orders."""

import pytest
from playwright.sync_api import expect

from orders.models import Order
from tests.factories import ShipToFactory
from tests.orders.ordering.gate_cases import agree_limits, review
from tests.orders.planning.plant_cases import placed_order, save_half_slow

pytestmark = pytest.mark.browser


def test_order_again_from_home_in_two_taps(shop, page_for, company, customer, rep):
    revision = save_half_slow(rep, company)
    review(revision)
    agree_limits(company)
    placed_order(
        rep, company, revision=revision, quantity=2, ship_to=ShipToFactory(company=company)
    )
    page = page_for(customer, width=390, height=844)
    page.goto("/")
    page.get_by_role("link", name="Order again").click()
    order = page.get_by_role("button", name="Order now")
    expect(order).to_be_in_viewport()
    bar = page.locator(".accept-bar")
    expect(bar).to_contain_text("$")
    expect(bar).to_contain_text("due")
    order.click()
    expect(page.get_by_text("is confirmed")).to_be_visible()
    assert Order.objects.filter(status="open", placed_by=customer).count() == 1
