"""The blend page in a call: what stays in view, how far it is to save, what prints."""

from collections.abc import Callable
from io import BytesIO

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from blendshop.accounts.models import Company, User
from tests.factories import CompanyFactory, ShipToFactory

pytestmark = pytest.mark.usefixtures("shop")

PageFor = Callable[..., Page]
WISH = "/blend/?N_min=24&slow_min=50&K2O_min=2&Fe_min=0.1"
#: What decides in a call.
DECIDES = ("#answer .verdict", "#answer .figures", "#answer .strip", "#save-wish button")
FOLDS = (
    "analysis-fold", "price-steps", "spray", "curve", "law", "storage", "stock", "release",
    "label",
)  # fmt: skip
#: Words of the page under an answer, everything folded.
MOST_WORDS = 600
#: Presses of Tab from the customer to the button that saves and quotes.
MOST_TABS = 5


def _all_is_there(page: Page) -> None:
    for part in ("#curve-panel svg.chart", "#release-body svg.chart", "#label-body .draft-mark"):
        expect(page.locator(part)).to_be_attached()


def _in_view(page: Page, place: str) -> bool:
    """Whether all of it is within the window and nothing lies over its middle."""
    return bool(
        page.evaluate(
            """place => {
              const shown = document.querySelector(place), box = shown.getBoundingClientRect();
              const over = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
              return box.height > 0 && box.top >= 0 && box.left >= 0
                && box.bottom <= window.innerHeight && box.right <= window.innerWidth
                && (shown.contains(over) || over.contains(shown));
            }""",
            place,
        )
    )


def test_verdict_strip_price_and_save_stay_in_view_whatever_is_unfolded(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep, width=1280, height=800)
    page.goto(WISH)
    _all_is_there(page)
    for fold in FOLDS:
        page.locator(f"#{fold} > summary").click()
        expect(page.locator(f"#{fold}")).to_have_attribute("open", "")
        page.locator(f"#{fold}").evaluate("fold => fold.scrollIntoView({block: 'end'})")
        for place in DECIDES:
            assert _in_view(page, place), (fold, place)
        page.locator(f"#{fold} > summary").click()
    page.evaluate("document.querySelectorAll('main details').forEach(fold => fold.open = true)")
    for y in (0, 400, 1200, 100_000):
        page.evaluate(f"window.scrollTo(0, {y})")
        for place in DECIDES:
            assert _in_view(page, place), (y, place)
    page.set_viewport_size({"width": 390, "height": 844})
    for y in (0, 1200, 100_000):
        page.evaluate(f"window.scrollTo(0, {y})")
        for place in (".phone-bar a", ".phone-bar button"):
            assert _in_view(page, place), (y, place)
    price = page.locator(".figures dd").first.inner_text()
    expect(page.locator(".phone-bar")).to_contain_text(f"{price}/gal")
    expect(page.locator(".phone-bar button")).to_have_text("Save and quote")


def _tabs_from_customer_to_save(page: Page, customer: str) -> int:
    page.locator(customer).focus()
    for tabs in range(1, 30):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == "Save and quote":
            return tabs
    raise AssertionError("not reached")


def test_a_few_tabs_lead_from_the_customer_to_the_button_that_saves(
    rep: User, company: Company, page_for: PageFor
) -> None:
    ShipToFactory(company=company)
    page = page_for(rep, width=1280, height=800)
    page.goto(f"{WISH}&company={company.pk}")
    assert _tabs_from_customer_to_save(page, "#company") <= 3
    CompanyFactory.create_batch(31)
    ShipToFactory.create_batch(31, company=company)
    page.reload()  # both are searched now
    assert _tabs_from_customer_to_save(page, "[name=company_search]") <= MOST_TABS
    reached = page.evaluate("[...document.querySelectorAll('[tabindex]')].map(e => e.tabIndex)")
    assert max(reached) <= 0, "the order is that of the page"
    page.locator("#name").focus()
    page.keyboard.type("From the call")
    page.keyboard.press("Enter")
    page.wait_for_url("**/quotes/new/**")
    page.go_back()
    expect(page.locator("#N_min")).to_have_value("24")
    expect(page.locator("#company")).to_have_value(str(company.pk))


def _words_on(page: Page) -> int:
    return len(page.locator("main").inner_text().split())


def test_a_wish_from_a_line_with_customers_to_search_says_little_too(
    rep: User, company: Company, page_for: PageFor
) -> None:
    """More customers than stand in a plain list, a stock left out, a place whose law is read."""
    ShipToFactory(company=company, label="Main yard", state="MD")
    CompanyFactory.create_batch(12)
    page = page_for(rep, width=1280, height=800)
    page.goto("/blend/")
    page.get_by_label("Quick entry").fill("24-0-2 half slow, Fe 0.1, 2 totes, no water")
    page.keyboard.press("Enter")
    _all_is_there(page)
    page.locator("[name=company_search]").fill(company.name)
    expect(page.locator("#company option")).to_have_count(2)
    page.locator("#company").select_option(str(company.pk))
    expect(page.locator(".strip")).to_contain_text("Testville")
    expect(page.locator(".limits summary .fold-result").last).to_have_text("1 set")
    assert _words_on(page) <= MOST_WORDS


def test_an_answer_says_little_until_something_is_unfolded_and_prints_on_one_page(
    rep: User, company: Company, page_for: PageFor
) -> None:
    ShipToFactory(company=company, label="Main yard", state="MD")
    page = page_for(rep, width=1280, height=800)
    page.goto(f"{WISH}&company={company.pk}")
    _all_is_there(page)
    assert _words_on(page) <= MOST_WORDS
    for fold in FOLDS:
        if fold != "stock":  # no lots: the strip says so
            result = page.locator(f"#{fold} > summary .fold-result")
            expect(result).not_to_be_empty()
    printed = PdfReader(BytesIO(page.pdf(format="Letter")))
    assert len(printed.pages) == 1
    text = " ".join(printed.pages[0].extract_text().split())
    price = page.locator(".figures dd").first.inner_text()
    asked = ("Total N 24", "Slow, % of N 50", str(company), "Main yard")
    answered = ("24-0-2", price, "Burn", "Cold", "Law", "Stock on hand", "Jar test", "Together")
    for words_of_it in (*asked, *answered, "urea ammonium nitrate solution"):
        assert words_of_it in text, words_of_it
    assert "Save and quote" not in text
