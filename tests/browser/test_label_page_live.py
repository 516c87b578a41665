"""The label page in a browser: readable on a phone, quiet console, a change from end to end."""

from collections.abc import Callable

from playwright.sync_api import Page

from blendshop.accounts.models import User
from tests.orders.labels.label_cases import label_part, make_demo_plant


def test_a_formulator_lowers_a_guarantee_on_the_label_page(
    page_for: Callable[..., Page],
) -> None:
    maker = make_demo_plant()
    part = label_part(maker, "Summer half-slow with micros", state="WI")
    page = page_for(maker)
    page.goto(f"/batches/{part.batch.number}/parts/1/label/")
    page.get_by_label("Line").select_option(label="Soluble Potash (K2O), 2 %")
    page.get_by_label("New figure, %").fill("1")
    page.get_by_label("Reason").fill("assay of the last lot")
    with page.expect_navigation():
        page.get_by_role("button", name="Change the label").click()
    page.get_by_text("Soluble Potash (K2O) lowered.").wait_for()
    preview = page.get_by_role("region", name="Preview of the label")
    assert "22-0-1" in preview.inner_text()
    assert "2% lowered to 1% by Max Maker" in page.inner_text("body")


def test_the_label_page_fits_a_phone(page_for: Callable[..., Page]) -> None:
    maker: User = make_demo_plant()
    part = label_part(maker, "Summer half-slow with micros", state="WI")
    page = page_for(maker, width=390, height=800)
    page.goto(f"/batches/{part.batch.number}/parts/1/label/")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
