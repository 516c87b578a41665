"""Last quarter's worst margin in three presses, and the orders behind it in one more."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from blendshop.accounts.models import User
from orders.year_figures.period import PeriodName, named_period
from tests.factories import CompanyFactory
from tests.orders.planning.plant_cases import make_shop
from tests.orders.year_figures.year_cases import revision_of, shipped


@pytest.mark.any_database
def test_the_office_finds_last_quarters_worst_margin_in_three_presses(
    page_for: Callable[..., Page], office: User
) -> None:
    make_shop()
    blend = revision_of("Spring", office)
    quarter = named_period(PeriodName.LAST_QUARTER, timezone.localdate())
    good, worst, since = (CompanyFactory(name=f"{name} Turf") for name in ("Good", "Worst", "New"))
    shipped("O-1", good, [(blend, "100", "30")], quarter.first)
    shipped("O-2", worst, [(blend, "100", "-5")], quarter.last)
    shipped("O-3", since, [(blend, "100", "-9")], quarter.last + timedelta(days=1))
    page = page_for(office, width=1280)
    page.goto("/orders/")
    page.get_by_text("Year", exact=True).click()
    with page.expect_navigation():
        page.get_by_role("link", name="Figures").click()
    with page.expect_navigation():
        page.get_by_role("link", name="Last quarter").click()
    row = page.locator("tbody tr").first
    expect(row.get_by_role("link", name="Worst Turf")).to_be_visible()
    expect(row).to_contain_text("-5.0")
    expect(page.get_by_text("New Turf")).to_have_count(0)
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        # A text of the chart is 12 units of 380: at least 11 pixels high on a phone.
        assert page.locator("svg.chart").bounding_box()["width"] >= 350
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
    with page.expect_navigation():
        row.get_by_role("link", name="Worst Turf").click()
    expect(page.get_by_role("link", name="O-2")).to_be_visible()
