"""A customer orders again from home on a phone: one tap from the price of the day to its date."""

import re

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
    today = page.locator(".home-price strong")
    expect(today).to_have_text(re.compile(r"^\$[\d,.]+ today$"))
    price = today.inner_text().removesuffix(" today")
    page.get_by_role("link", name="Order again").click()
    order = page.get_by_role("button", name="Order now")
    expect(order).to_be_in_viewport()
    bar = page.locator(".accept-bar")
    expect(bar).to_contain_text(price)
    expect(bar).to_contain_text("due")
    order.click()
    expect(page.get_by_text("is confirmed")).to_be_visible()
    ordered = Order.objects.get(status="open", placed_by=customer)
    assert f"${ordered.total:,.2f}" == price
