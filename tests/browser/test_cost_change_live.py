"""A cost letter in a browser: what it does, quotes withdrawn and drafted anew, put in force."""

from collections.abc import Callable

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from formulas.models import BaseStock
from orders.models import CostChange, Package, Quote
from orders.quoting.actions.quotes import draft_quote, send_quote
from orders.quoting.draft_prices import DraftLine
from tests.factories import BaseStockFactory
from tests.jobs.queue_cases import run_due
from tests.orders.quoting.quote_cases import make_quotable

PageFor = Callable[..., Page]


def _sent(rep: User, company: Company, count: int) -> list[Quote]:
    revision, ship_to = make_quotable(company, rep)
    quotes = []
    for quantity in range(1, count + 1):
        quote = draft_quote(
            acting_user=rep,
            company=company,
            ship_to=ship_to,
            lines=[DraftLine(revision=revision, package=Package.objects.get(), quantity=quantity)],
            validity_days=30,
        )
        send_quote(quote=quote, acting_user=rep)
        quotes.append(quote)
    return quotes


def _fits(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def _done(page: Page, numbers: list[str], button: str, confirm: str, why: str = "") -> None:
    """Tick, press, read and confirm; over the page that says what was done, back again."""
    for number in numbers:
        page.get_by_label(f"Choose {number}").check()
    page.get_by_role("button", name=button).click()
    if why:
        page.get_by_label("Reason").fill(why)
    page.get_by_role("button", name=confirm).click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    run_due()
    expect(page.get_by_role("heading", name="Done")).to_be_visible()
    page.get_by_role("link", name="Back to the new costs").click()


def test_a_letter_of_six_stocks_is_seen_acted_on_and_put_in_force(
    page_for: PageFor, rep: User, company: Company, office: User
) -> None:
    quotes = _sent(rep, company, 4)
    BaseStockFactory(code="KTS", name="potassium thiosulfate solution", cost_per_lb="0.3000")
    page = page_for(office, width=1280, expected=True)
    page.goto("/new-costs/new/")
    page.get_by_label("Name").fill("Letter of December")
    codes = list(BaseStock.objects.order_by("code").values_list("code", flat=True))[:6]
    for row, code in enumerate(codes, start=1):
        page.get_by_label(f"Stock, {row}", exact=True).select_option(code)
        if code == "UAN":
            page.get_by_label(f"New cost, {row}", exact=True).fill("0.35")
        else:
            page.get_by_label(f"or rises by, %, {row}", exact=True).fill("15")
    assert len(codes) == 6
    for width in (390, 820, 1280):
        _fits(page, width)
    page.get_by_role("button", name="See what they do").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    run_due()
    expect(page.get_by_role("list", name="In short")).to_contain_text("4 of 4")
    for width in (390, 820, 1280):
        _fits(page, width)
    first, second, *others = [quote.number for quote in quotes]
    _done(page, [first, second], "Withdraw them", "Withdraw them", why="Costs have risen.")
    _done(page, others, "Draft the ticked anew", "Draft them anew")
    assert set(Quote.objects.filter(status="void").values_list("number", flat=True)) == {
        first,
        second,
    }
    assert [quote.next_version is not None for quote in quotes] == [False, False, True, True]
    page.get_by_role("link", name="Put in force").click()
    _fits(page, 390)
    page.get_by_role("button", name="Put these costs in force").click()
    asked = page.get_by_role("alert")
    expect(asked).to_contain_text("These costs move by more than 25 percent; are they right?")
    expect(asked).to_contain_text("UAN: $0.18 → $0.35 a pound, +94.4 %")
    assert not CostChange.objects.get().in_force_on
    _fits(page, 390)
    asked.get_by_role("button", name="They are right: put them in force").click()
    expect(page.locator("main")).to_contain_text("The new costs are in force from")
    assert CostChange.objects.get().costs.count() == 6
    run_due()
    page.get_by_role("link", name="Open quotes by margin").click()
    expect(page.get_by_role("region", name="Open quotes")).to_contain_text(others[0])
