"""Law, release, label and margin in a browser: live, by keyboard, without script, on any width."""

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, Page, expect

from blendshop.accounts.models import Company, User
from formulas.blends.actions import save_blend
from formulas.models import BaseStock
from tests.factories import (
    ShipToFactory,
    TraitFactory,
    today,
)

PageFor = Callable[..., Page]
WISH = "/blend/?N_min=24&slow_min=50&K2O_min=2"
LEGAL = f"{WISH}&law_state=MD&law_on=2027-05-01&legal=on&n_rate=0.9&margin=on"


@pytest.fixture(autouse=True)
def triazone(shop: None) -> None:
    BaseStock.objects.get(code="TRZ").traits.add(TraitFactory(code="triazone"))


def _loaded(page: Page) -> None:
    expect(page.locator("#curve-panel svg.chart")).to_be_attached()
    expect(page.locator("#release-body svg.chart")).to_be_attached()
    expect(page.locator("#label-body .draft-mark")).to_be_attached()


def test_the_law_follows_the_ship_to_and_a_finding_leads_to_its_question(
    rep: User, company: Company, page_for: PageFor
) -> None:
    ShipToFactory(company=company, label="Main yard", state="MD")
    page = page_for(rep)
    page.goto(WISH)
    expect(page.locator("#law-findings")).to_contain_text("Choose a ship-to")
    page.locator("#company").select_option(str(company.pk))
    expect(page.locator(".strip")).to_contain_text("Testville, Test County, MD")
    expect(page.locator("#q_grass")).to_be_hidden()
    page.locator(".strip a[href='#law-evidence']").click()
    page.locator("#law-findings a[href='#q_grass']").first.click()
    expect(page.locator("#q_grass")).to_be_focused()
    page.locator("#q_grass").select_option("tall_fescue")
    expect(page.locator("#law-findings")).to_contain_text("against at most 2.70 lb")
    expect(page.locator("#q_grass")).to_be_focused()


def test_legal_changes_the_recipe_and_never_silently(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto("/blend/?N_min=20&law_state=MD&n_rate=0.9")
    expect(page.locator("#answer .slow")).to_contain_text("0.0 %")
    page.get_by_text("Law and margin", exact=True).click()
    page.get_by_label("Legal where I spray").check()
    page.get_by_label("Unverified rules too").check()
    expect(page.locator("#answer .slow")).to_contain_text("22.2 %")
    expect(page.locator("#answer")).to_contain_text("In the wish by law of MD")
    page.locator("#n_rate").fill("1.3")
    expect(page.locator("#n_rate_error")).to_contain_text("at a time is legal here")
    page.get_by_label("Legal where I spray").uncheck()
    expect(page.locator("#n_rate_error")).to_be_empty()
    expect(page.locator("#answer")).not_to_contain_text("In the wish by law")


def test_margin_release_and_label_follow_the_answer(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto(WISH)
    _loaded(page)
    expect(page.locator("#margin-panel")).to_be_hidden()
    page.get_by_text("Law and margin", exact=True).click()
    page.get_by_label("With margin, so that the label holds").check()
    expect(page.locator("#margin-panel")).to_contain_text("Total nitrogen")
    # The blend aims higher; its label guarantees what was asked.
    expect(page.locator("#label-body")).to_contain_text("Total Nitrogen (N)24%")
    before = page.locator("#release-body svg.chart").inner_html()
    page.locator("#release > summary").click()
    page.locator("#season").select_option("typed")
    for month in range(1, 5):
        page.locator(f"#soil_{month}").fill("45")
    expect(page.locator("#release-body")).to_contain_text("Soil temperatures typed in")
    assert page.locator("#release-body svg.chart").inner_html() != before


def test_each_section_is_a_heading_that_a_key_and_a_link_reach(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep)
    page.goto(LEGAL)
    _loaded(page)
    for name in (
        "Law where it is sprayed", "Release outlook", "Label preview", "Margin of the guarantees"
    ):  # fmt: skip
        expect(page.get_by_role("heading", name=name, level=3)).to_be_visible()
    page.locator("#label > summary").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#label-body")).to_be_in_viewport()
    page.locator(".strip a[href='#law-evidence']").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#law-evidence")).to_be_focused()
    expect(page.locator("#law-findings")).to_be_in_viewport()


def test_the_sections_leave_recipe_and_price_on_the_first_screen(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep, width=1366, height=768)
    page.goto(LEGAL.replace("&margin=on", "").replace("&legal=on", ""))
    for selector in ("#answer .figures", "#answer .recipe tfoot", "#name"):
        box = page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 768, selector


@pytest.mark.parametrize("path", [LEGAL, f"{LEGAL}&law_state=ZZ", "/blend/?legal=on&N_min=30"])
def test_every_width_fits_and_passes_the_accessibility_rules(
    rep: User, page_for: PageFor, path: str
) -> None:
    page = page_for(rep)
    page.goto(path)
    if path == LEGAL:
        _loaded(page)
    for width, height in ((1366, 768), (820, 1180), (360, 740)):
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("document.querySelectorAll('main details').forEach(fold => fold.open = true)")
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width
        found = Axe().run(page)
        assert found.violations_count == 0, f"{width}: {found.generate_report()}"


@pytest.mark.parametrize(("width", "height"), [(360, 740), (1366, 768)])
def test_a_season_is_planned_on_a_page_that_fits_and_prints(
    rep: User, company: Company, page_for: PageFor, width: int, height: int
) -> None:
    ShipToFactory(company=company, state="MD")
    wish = {"targets": [{"nutrient": "N", "min": 24}], "slow_release_pct": {"min": 50}}
    revision = save_blend(acting_user=rep, name="Season", company=company, wish=wish, today=today())
    page = page_for(rep, width=width, height=height)
    page.goto(f"/season-plan/?revision={revision.pk}")
    page.locator("#day_0").fill("2027-05-01")
    page.locator("#rate_0").fill("1.2")
    page.get_by_role("button", name="Check the season").click()
    expect(page.locator(".season-result h2")).to_contain_text("fails")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.emulate_media(media="print")
    expect(page.locator(".season-form")).to_be_hidden()
    expect(page.locator(".season-result")).to_be_visible()


def test_without_a_script_each_section_is_one_link_away(
    rep: User, browser: Browser, live_server: Any
) -> None:
    client = Client()
    client.force_login(rep)
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page = context.new_page()
    page.goto(LEGAL)
    expect(page.locator("#law-findings")).to_contain_text("Md. Code, Agriculture 6-224(a)(1)")
    expect(page.locator("#margin-panel")).to_contain_text("Total nitrogen")
    page.locator("#release > summary").click()
    page.get_by_role("link", name="Draw the release outlook").click()
    expect(page.locator("#release-body svg.chart")).to_be_visible()
    page.locator("#label > summary").click()
    page.get_by_role("link", name="Show the label preview").click()
    expect(page.locator("#label-body")).to_contain_text("Draft for review, not a label")
    context.close()
