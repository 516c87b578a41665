"""A jar test in a browser, from the blend that asks for one to the blend that counts as tested."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from blendshop.accounts.models import User
from formulas.models import JarTest
from tests.factories import today

WISH = "/blend/?N_min=20&slow_min=30&K2O_min=2"


@pytest.fixture(autouse=True)
def media(shop: None, settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def _fits(page: Page, width: int) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def _storage(page: Page) -> Locator:
    """The wish's evidence on storage, unfolded."""
    page.goto(WISH)
    page.locator("#storage > summary").click()
    return page.locator("#storage-answer")


@pytest.mark.parametrize("width", [1280, 768, 390])
def test_a_jar_registered_with_a_photo_vouches_for_the_blend(
    page_for: Callable[..., Page], rep: User, width: int
) -> None:
    page = page_for(rep, width=width)
    storage = _storage(page)
    expect(storage).to_contain_text("Do a jar test first.")
    _fits(page, width)
    storage.get_by_role("link", name="Register a jar test of this recipe").click()
    expect(page.get_by_label("Stock 1", exact=True)).not_to_have_value("")
    _fits(page, width)

    page.get_by_label("Mixed on").fill((today() - timedelta(days=40)).isoformat())
    page.get_by_label("Stood for, days").fill("35")
    page.get_by_label("Kept at, °F").fill("30")
    page.get_by_label("Outcome").select_option("clear")
    photo = {"name": "jar.png", "mimeType": "image/png", "buffer": page.screenshot()}
    page.get_by_label("Photo").set_input_files(photo)
    page.get_by_role("button", name="Register", exact=True).click()

    expect(page.locator("main")).to_contain_text("Registered as")
    jar = JarTest.objects.get()
    shown = page.locator("main img")
    expect(shown).to_be_visible()
    assert shown.evaluate("async image => { await image.decode(); return image.naturalWidth; }")
    _fits(page, width)

    page.goto("/jar-tests/")
    expect(page.get_by_role("row", name=jar.code)).to_contain_text("photo")
    _fits(page, width)

    storage = _storage(page)
    expect(storage).to_contain_text("Tested.")
    nearest = storage.get_by_role("row", name=jar.code)
    expect(nearest).to_contain_text("the same")
    expect(nearest.get_by_role("link", name=jar.code)).to_have_attribute(
        "href", f"/jar-tests/{jar.pk}/"
    )
    _fits(page, width)


def test_a_jar_that_failed_is_shown_as_nearest_and_still_asks_for_another(
    page_for: Callable[..., Page], rep: User
) -> None:
    page = page_for(rep)
    storage = _storage(page)
    storage.get_by_role("link", name="Register a jar test of this recipe").click()
    page.get_by_label("Stood for, days").fill("0")
    page.get_by_label("Kept at, °F").fill("60")
    page.get_by_label("Outcome").select_option("crystals")
    page.get_by_role("button", name="Register", exact=True).click()
    expect(page.locator("main")).to_contain_text("Registered as")
    storage = _storage(page)
    expect(storage.get_by_role("row", name=JarTest.objects.get().code)).to_contain_text("rystals")
    expect(storage).to_contain_text("Do a jar test first.")
