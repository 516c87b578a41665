"""A customer orders its own blend: asked for, reviewed, ordered; and a crew login at its limit."""

from decimal import Decimal

import pytest
from playwright.sync_api import expect

from blendshop.roles import Role
from formulas.blends.reviews import is_reviewed
from orders.models import Order
from tests.factories import ShipToFactory, UserFactory
from tests.orders.ordering.gate_cases import agree_limits
from tests.orders.planning.plant_cases import save_half_slow

pytestmark = pytest.mark.browser


def test_asked_for_reviewed_ordered_and_stopped_at_the_limit(
    shop, page_for, company, customer, formulator
):
    revision = save_half_slow(customer, company, "Our own")
    ShipToFactory(company=company)
    agree_limits(company, most_gal=530)
    crew = UserFactory(email="crew@brookmeadow.example", role=Role.CUSTOMER, company=company)

    page = page_for(customer, width=390, height=844)
    page.goto(f"/blends/{revision.blend_id}/")
    page.get_by_role("link", name="Order", exact=True).click()
    expect(page.get_by_text("has not reviewed the recipe of Our own")).to_be_visible()
    page.get_by_label("Your purchase order number").fill("PO 4711")
    page.get_by_role("button", name="Ask for it").click()
    expect(page.get_by_text("requested", exact=True).first).to_be_visible()
    asked = Order.objects.get()
    assert (asked.status, asked.customer_reference) == ("requested", "PO 4711")

    desk = page_for(formulator)
    desk.goto("/blend/")
    desk.get_by_role("link", name="Look at what waits").click()
    expect(desk.get_by_role("heading", name=asked.number)).to_be_visible()
    desk.get_by_role("button", name="Reviewed: release to an order").click()
    expect(desk.get_by_text(f"{asked.number} is an order now.")).to_be_visible()
    asked.refresh_from_db()
    assert asked.status == "open"
    assert is_reviewed(revision)

    other = page_for(crew, width=820, height=1180)
    other.goto(f"/orders/{asked.number}/reorder/")
    other.get_by_role("button", name="Order now").click()
    expect(other.get_by_text("is confirmed")).to_be_visible()
    other.goto(f"/blends/{revision.blend_id}/reorder/")
    other.get_by_label("Quantity").fill("3")
    other.get_by_role("button", name="Show today's price").click()
    expect(other.get_by_text("795 gal are more than the 530 gal")).to_be_visible()
    other.get_by_role("button", name="Ask for it").click()
    expect(other.get_by_text("we mail you what is decided").first).to_be_visible()
    states = Order.objects.order_by("pk").values_list("status", flat=True)
    assert list(states) == ["open", "open", "requested"]
    assert Order.objects.open().count() == 2
    assert all(order.total > Decimal(0) for order in Order.objects.all())
