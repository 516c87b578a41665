"""A recall drill in a browser: from a lot's page to printed letters, held on the way."""

import logging
import re
import time
from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import User
from orders.models import Paper, StockLot
from tests.orders.recall.test_recall import Plant

_LOG = logging.getLogger(__name__)


@pytest.mark.parametrize("width", [1280, 390])
def test_from_a_lot_to_its_letters(
    page_for: Callable[..., Page],
    rep: User,
    plant_worker: User,
    formulator: User,
    width: int,
    caplog: pytest.LogCaptureFixture,
) -> None:
    plant = Plant(rep, plant_worker)
    page = page_for(formulator, width=width)

    def fits() -> None:
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()

    page.goto(f"/lots/{plant.lot.code}/")
    begun = time.monotonic()
    with page.expect_navigation():
        page.get_by_role("link", name="Recall it").click()
    page.get_by_label("Reason, for the plant").fill("Cloudy after a week.")
    page.get_by_label("What customers are told").fill("It may clog nozzles.")
    with page.expect_navigation():
        page.get_by_role("button", name="Open the recall").click()
    expect(page.locator("main")).to_contain_text("Nothing is held by this recall.")
    with page.expect_navigation():
        page.get_by_role("button", name="Hold everything").click()
    expect(page.locator("main")).to_contain_text("What was shipped stays shipped.")
    letter = page.get_by_role("link", name="Letter to Customer A")
    answer = page.request.get(letter.get_attribute("href") or "")
    took_s = time.monotonic() - begun
    with caplog.at_level(logging.INFO):
        _LOG.info("From the lot to the letter at %s px: %.1f s", width, took_s)
    assert answer.body().startswith(b"%PDF")
    assert Paper.objects.filter(kind=Paper.Kind.RECALL_LETTER).count() == 1
    assert StockLot.objects.get(pk=plant.lot.pk).state == StockLot.State.HELD
    fits()
    with page.expect_navigation():
        page.get_by_role("link", name="Mail text and telling Customer A").click()
    expect(page.get_by_role("textbox", name="Mail text to copy")).to_have_value(
        re.compile("It may clog nozzles")
    )
    fits()
    page.get_by_label("Note").fill("Casey stops today.")
    with page.expect_navigation():
        page.get_by_role("button", name="Write it down").click()
    expect(page.locator("main")).to_contain_text("Casey stops today.")
    expect(page.locator("main")).to_contain_text("0 not told yet")
