"""From a drift chart to a margin: the measured spread is adopted, and a blend's margin follows."""

import re
from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from tests.orders.drift.drift_cases import STEADY, nitrogen, put_in
from tests.orders.planning.plant_cases import make_shop, save_half_slow

PageFor = Callable[..., Page]
PER_GAL = re.compile(r"The margin costs (\$[\d.]+) → (\$[\d.]+) of material per gal")


def _fits(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def _margin(page: Page) -> tuple[str, str]:
    found = PER_GAL.search(page.locator(".margin-per-gal").first.inner_text())
    assert found is not None
    return found[1], found[2]


def test_a_formulator_adopts_a_measured_spread_and_sees_a_margin_change(
    page_for: PageFor, formulator: User, rep: User, company: Company
) -> None:
    make_shop()
    save_half_slow(rep, company)
    put_in("TRZ", nitrogen(STEADY), density=10.7)
    page = page_for(formulator, width=1280)
    page.goto("/drift/")
    page.get_by_role("link", name="TRZ").click()
    chart = page.get_by_role("img", name="Total N, %")
    expect(chart).to_be_in_viewport()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    _fits(page, 390)
    page.get_by_role("link", name="Adopt the measured spread").click()
    was, becomes = _margin(page)
    assert float(becomes[1:]) < float(was[1:])
    _fits(page, 390)
    page.get_by_role("button", name="Adopt it").click()
    expect(page.locator("main")).to_contain_text("What was measured is adopted.")
    page.goto("/drift/TRZ/adopt/")
    assert _margin(page) == (becomes, becomes)
