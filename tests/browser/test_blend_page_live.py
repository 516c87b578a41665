"""The blend page in a real browser: live, by keyboard, on three widths, without a script."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, Page, Route, expect

from blendshop.accounts.models import Company, User
from formulas.models import BlendRevision
from orders.models import Quote
from tests.factories import ShipToFactory

pytestmark = pytest.mark.usefixtures("shop")

PageFor = Callable[..., Page]
WISH = "/blend/?N_min=24&slow_min=50&K2O_min=2"
OUT_OF_REACH = "/blend/?N_min=30&slow_min=50&K2O_min=2"


@pytest.fixture
def own_page(rep: User, browser: Browser, live_server: Any) -> Iterator[Page]:
    """The rep's page where failed requests may stand on the console."""
    client = Client()
    client.force_login(rep)
    context = browser.new_context(base_url=live_server.url)
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    yield context.new_page()
    context.close()


def _type_a_wish(page: Page) -> None:
    page.goto("/blend/")
    page.keyboard.type("24")
    page.locator("#K2O_min").fill("2")
    page.locator("#slow_min").fill("50")
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-2")
    expect(page.locator("#answer .slow")).to_contain_text("50.0 %")


def _all_is_there(page: Page) -> None:
    """Nothing else is under way any more."""
    for part in ("#curve-panel svg.chart", "#release-body svg.chart", "#label-body .draft-mark"):
        expect(page.locator(part)).to_be_attached()


def test_the_answer_follows_the_keys_without_any_submit(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    _type_a_wish(page)
    expect(page.locator("#answer-status")).to_contain_text("Solved: 24-0-2")
    expect(page.locator("#curve-panel svg.chart")).to_be_attached()
    page.locator("#n_rate").fill("0.5")
    expect(page.locator("#spray-figures")).to_contain_text("0.25 lb per 1000 sq ft")
    page.reload()
    expect(page.locator("#N_min")).to_have_value("24")
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-2")


def test_every_section_is_asked_once_for_an_answer_and_the_page_stays(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep)
    page.goto("/blend/")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.split("/", 3)[3]))
    page.evaluate("window.stillHere = true")
    page.locator("#N_min").fill("24")
    expect(page.locator("#curve-panel svg.chart")).to_be_attached()
    expect(page.locator("#release-body svg")).to_be_attached()
    expect(page.locator("#storage-answer")).not_to_be_empty()
    expect(page.locator("#label-body")).to_contain_text("24-0-0")
    page.wait_for_timeout(1_000)  # long enough for a loop to show itself
    assert page.evaluate("window.stillHere")
    asked_for = sorted(path for path in asked if path.startswith("blend/"))
    assert asked_for == ["blend/answer/"] * 4


def test_the_typing_person_keeps_focus_and_figures(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto(WISH)
    field = page.locator("#N_min")
    field.focus()
    for figure in ("2", "20", "20.", "20.5"):
        field.fill(figure)
        page.wait_for_timeout(120)  # the pace of a hand; right or wrong does not hang on it
    expect(page.locator("#answer .analysis tbody tr").first).to_contain_text("20.500")
    expect(field).to_be_focused()
    expect(field).to_have_value("20.5")


def test_a_slip_is_said_at_the_field_and_goes_when_corrected(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto(WISH)
    page.locator("#N_min").fill("2x")
    slip = page.locator("#N_min_error")
    expect(slip).to_have_text("Type a number, such as 24 or 3.5.")
    expect(page.locator("#N_min")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#N_min")).to_have_attribute("aria-describedby", "N_min_error")
    expect(page.locator("#slow_min")).to_have_value("50")
    page.locator("#N_min").fill("24")
    expect(slip).to_be_empty()
    expect(page.locator("#N_min")).not_to_have_attribute("aria-invalid", "true")
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-2")


def test_out_of_reach_is_left_by_one_click_on_an_alternative(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto("/blend/")
    for name, figure in (("N_min", "30"), ("slow_min", "50"), ("K2O_min", "2")):
        page.locator(f"#{name}").fill(figure)
    expect(page.locator("#answer h2")).to_have_text("Out of reach")
    before = {name: page.locator(f"#{name}").input_value() for name in ("N_min", "slow_min")}
    page.get_by_role("button", name="Take this one").first.click()
    expect(page.locator("#answer .verdict .grade")).to_be_visible()
    after = {name: page.locator(f"#{name}").input_value() for name in ("N_min", "slow_min")}
    assert after != before or page.locator("#K2O_min").input_value() != "2"
    expect(page.locator("#answer-title")).to_be_focused()


def test_the_whole_page_is_reached_by_keyboard_and_enter_destroys_nothing(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep)
    page.goto("/blend/")
    expect(page.locator("#N_min")).to_be_focused()
    page.keyboard.type("24")
    page.keyboard.press("Tab")
    expect(page.locator("#N_max")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#answer .verdict .grade")).to_be_visible()
    expect(page.locator("#N_min")).to_have_value("24")
    reached = set()
    for _ in range(80):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
        if page.evaluate("document.activeElement.innerText") == "Another nutrient":
            page.keyboard.press("Enter")  # what is folded opens by a key
    wanted = {"slow_min", "more", "package", "quantity", "company", "ship_to", "n_rate", "carrier"}
    assert wanted | {"name", "SUMMARY", "BUTTON"} <= reached
    page.keyboard.press("/")
    expect(page.locator("#name")).not_to_have_value("/")


def test_slash_goes_to_the_first_wish_but_can_be_typed_into_a_name(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep)
    page.goto(WISH)
    page.locator("#carrier").focus()
    page.keyboard.press("/")
    expect(page.locator("#N_min")).to_be_focused()
    page.locator("#name").focus()
    page.keyboard.type("Spring 1/2")
    expect(page.locator("#name")).to_have_value("Spring 1/2")


def test_one_line_and_enter_fill_the_figures(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto("/blend/")
    page.locator("#line").fill("24-0-2 half slow, 2 totes")
    page.keyboard.press("Enter")
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-2")
    expect(page.locator("#slow_min")).to_have_value("50")
    expect(page.locator("#quantity")).to_have_value("2")
    expect(page.locator("#line")).to_have_value("")
    expect(page.locator("#N_min")).to_be_focused()
    expect(page.locator(".chip")).to_have_count(4)
    page.keyboard.type("22")
    expect(page.locator(".chip")).to_have_count(3)
    expect(page.locator("#N_min")).to_be_focused()


def test_a_row_is_added_and_typing_goes_on_in_it(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto(WISH)
    page.locator(".another > summary").click()
    page.locator("#more").select_option("Zn")
    page.get_by_role("button", name="Add nutrient").click()
    expect(page.locator("#Zn_min")).to_be_focused()
    expect(page.locator("#N_min")).to_have_value("24")
    page.locator("label[for=mode-recipe]").click()
    expect(page.locator("#recipe_code_0")).to_be_visible()
    page.locator("#recipe_code_0").select_option("TRZ")
    page.locator("#recipe_pct_0").fill("50")
    page.get_by_role("button", name="Add a stock").click()
    expect(page.locator("#recipe_code_3")).to_be_focused()
    expect(page.locator("#recipe_pct_0")).to_have_value("50")


def test_a_stock_left_out_leaves_the_recipe(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto("/blend/?N_min=20")
    expect(page.locator("#answer .recipe")).to_contain_text("urea ammonium nitrate solution")
    page.get_by_text("Limits on stocks").click()
    page.get_by_label("urea ammonium nitrate solution", exact=True).check()
    expect(page.locator("#answer .recipe")).not_to_contain_text("urea ammonium nitrate solution")
    expect(page.locator("#answer .recipe")).to_contain_text("urea-triazone solution")


def test_another_customer_brings_its_own_ship_tos(
    rep: User, company: Company, page_for: PageFor
) -> None:
    ShipToFactory(company=company, label="Main yard")
    page = page_for(rep)
    page.goto(WISH)
    expect(page.locator("#ship_to")).to_contain_text("Picked up at the plant")
    page.locator("#company").select_option(str(company.pk))
    expect(page.locator("#ship_to option:checked")).to_contain_text("Main yard")
    expect(page.locator("#answer .steps")).to_contain_text("truck load")


def test_the_rep_saves_what_is_shown_and_goes_on_to_a_quote(
    rep: User, company: Company, page_for: PageFor
) -> None:
    ShipToFactory(company=company)
    page = page_for(rep)
    _type_a_wish(page)
    page.locator("#company").select_option(str(company.pk))
    expect(page.locator("#answer .steps")).to_contain_text("truck load")
    page.locator("#name").fill("Summer 24")
    page.get_by_role("button", name="Save and quote").click()
    page.wait_for_url("**/quotes/**")
    revision = BlendRevision.objects.get()
    assert revision.blend.company == company
    assert f"revision={revision.pk}" in page.url or Quote.objects.exists()


def test_an_old_answer_never_passes_for_a_new_one_when_the_server_is_silent(
    rep: User, own_page: Page
) -> None:
    page = own_page
    page.goto(WISH)
    expect(page.locator("#answer-stale")).to_be_hidden()
    page.route("**/blend/answer/", lambda route: route.abort())
    page.locator("#N_min").fill("20")
    expect(page.locator("#answer-stale")).to_be_visible()
    expect(page.get_by_role("button", name="Save and quote")).to_be_disabled()
    page.unroute("**/blend/answer/")
    page.locator("#N_min").fill("21")
    expect(page.locator("#answer-stale")).to_be_hidden()
    expect(page.locator("#answer .analysis tbody tr").first).to_contain_text("21.000")


def test_a_token_of_before_is_renewed_and_the_question_asked_again(
    rep: User, own_page: Page
) -> None:
    page = own_page
    page.goto(WISH)
    _all_is_there(page)
    page.evaluate("window.stillHere = true")
    page.context.clear_cookies(name="csrftoken")
    page.locator("#K2O_min").fill("3")
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-3")
    assert page.evaluate("window.stillHere")


def test_a_page_that_is_always_refused_is_asked_again_once_and_then_says_so(
    rep: User, own_page: Page
) -> None:
    page = own_page
    page.goto(WISH)
    _all_is_there(page)
    expect(page.locator("#answer-refused")).to_be_hidden()
    asked: list[str] = []

    def refuse(route: Route) -> None:
        asked.append(route.request.url)
        route.fulfill(status=403, body="refused")

    page.route("**/blend/answer/**", refuse)
    page.locator("#N_min").fill("20")
    expect(page.locator("#answer-refused")).to_be_visible()
    assert len(asked) == 2
    page.unroute("**/blend/answer/**")
    page.locator("#N_min").fill("21")
    expect(page.locator("#answer-refused")).to_be_hidden()


def test_without_a_script_the_page_does_the_same(
    rep: User, browser: Browser, live_server: Any
) -> None:
    client = Client()
    client.force_login(rep)
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page = context.new_page()
    page.goto("/blend/")
    page.locator("#N_min").fill("30")
    page.locator("#slow_min").fill("50")
    page.locator("#K2O_min").fill("2")
    page.get_by_role("button", name="Work out the blend").click()
    expect(page.locator("#answer h2")).to_have_text("Out of reach")
    page.get_by_role("button", name="Take this one").first.click()
    expect(page.locator("#answer .verdict .grade")).to_be_visible()
    page.locator("#curve > summary").click()
    page.get_by_role("link", name="Price of other wishes, and price against slow release").click()
    expect(page.locator("#curve-panel svg.chart")).to_be_visible()
    context.close()


DESK, UPRIGHT, PHONE = (1366, 768), (820, 1180), (360, 740)


@pytest.mark.parametrize(
    ("path", "sizes"),
    [
        (WISH, (DESK, UPRIGHT, PHONE)),
        (OUT_OF_REACH, (DESK, PHONE)),
        ("/blend/", (PHONE,)),
        ("/blend/?mode=recipe&N_min=x", (PHONE,)),
        ("/blend/?mode=strongest&slow_min=50", (UPRIGHT,)),
    ],
)
def test_every_width_fits_and_passes_the_accessibility_rules(
    rep: User, page_for: PageFor, path: str, sizes: tuple[tuple[int, int], ...]
) -> None:
    page = page_for(rep, width=sizes[0][0], height=sizes[0][1])
    page.goto(path)
    if path == WISH:
        _all_is_there(page)
    for summary in page.locator("main details > summary").all():
        if summary.is_visible():
            summary.click()
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width
        found = Axe().run(page)
        assert found.violations_count == 0, f"{width}: {found.generate_report()}"


def test_a_normal_wish_is_answered_without_scrolling_on_a_desk(
    rep: User, page_for: PageFor
) -> None:
    page = page_for(rep, width=1366, height=768)
    page.goto(WISH)
    for selector in ("#answer .figures", "#answer .recipe tfoot", "#answer .warnings h3", "#name"):
        box = page.locator(selector).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= 768, selector


def test_a_line_and_an_alternative_taken_are_undone_by_back(rep: User, page_for: PageFor) -> None:
    page = page_for(rep)
    page.goto("/blend/?K2O_min=1&slow_min=50")
    page.locator("#line").fill("24-0-2, under $5.75 a gallon")
    page.keyboard.press("Enter")
    expect(page.locator("#answer .alternative")).to_have_count(4)
    first = page.locator("#answer .alternative").first
    title = first.locator("h4").inner_text()
    assert "kept:" in title
    assert "→" in title
    first.get_by_role("button").click()
    expect(page.locator("#answer .verdict .grade")).to_be_visible()
    taken = page.url
    page.go_back()
    expect(page.locator("#answer .alternative")).to_have_count(4)
    expect(page.locator("#price_asked")).to_have_value("5.75")
    expect(page.locator("#N_min")).to_have_value("24")
    page.locator("#K2O_min").fill("1")  # the page answers as it did before
    expect(page).to_have_url(re.compile("K2O_min=1"))
    page.go_back()  # to before the line
    expect(page.locator("#K2O_min")).to_have_value("1")
    expect(page.locator("#N_min")).to_have_value("")
    expect(page.locator("#price_asked")).to_have_value("")
    expect(page.locator(".chip")).to_have_count(0)
    page.goto(taken)
    expect(page.locator("#answer .verdict .grade")).to_be_visible()
