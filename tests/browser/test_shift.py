"""A shift on the plant's tablet in a real browser, from the delivery to the tonnage report."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, Route, expect

from blendshop.accounts.models import Company, User
from orders.models import Batch, Charge, Order, StockMovement
from orders.production.steps import batch_steps
from tests.browser.conftest import TABLET, Open
from tests.browser.plant_pages import pdf_text, shown, weigh
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import make_shop, placed_order
from tests.orders.production.charging_cases import (
    charged_and_made,
    read_density,
)

#: Smallest side of anything pressed with gloves, CSS pixels.
GLOVE_PX = 48


def _receive(page: Page, code: str, pounds: str) -> str:
    """A delivery through the page; the code of the new lot."""
    page.goto(f"/lots/receive/?stock={code}")
    page.get_by_label("Mass received, lb").fill(pounds)
    page.get_by_role("button", name="Receive", exact=True).click()
    page.wait_for_url(re.compile(r"/lots/L-\d+-\d+/"))
    return page.url.rstrip("/").rsplit("/", 1)[-1]


def test_a_shift_from_three_deliveries_to_the_shipped_order_and_its_trace(
    tablet: Open, rep: User, company: Company, plant_worker: User, office: User
) -> None:
    make_shop()
    order = placed_order(rep, company, quantity=2)
    page = tablet()
    lots = {code: _receive(page, code, "9000") for code in ("UAN", "TRZ", "KAC")}

    page.goto(f"/orders/{order.number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Plan batches").click()
    batch = order.lines.get().parts.get().batch
    page.goto(f"/batches/{batch.number}/")
    with page.expect_navigation():
        page.get_by_role("link", name="Weigh and charge").click()

    # Water from the main, 60 lb too much: said in words, and the tank will miss its nitrogen.
    water = int(shown(page, "#charge-left"))
    page.locator("#charge-mass").fill(str(water + 60))
    expect(page.locator("#charge-words")).to_have_text("60 lb over: too much")
    page.get_by_role("button", name="Save this weight").click()
    expect(page.locator("#charge-refused")).to_be_focused()
    page.get_by_role("button", name="Yes, save it").click()
    expect(page.get_by_role("heading", name="Correction")).to_be_visible()
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    expect(page.locator("h1 .status")).to_have_text("being charged")
    assert "$" not in page.content()
    with page.expect_navigation():
        page.get_by_role("button", name="Accept this correction").click()
    expect(page.locator("main")).to_contain_text("still to come have a new target")

    while page.locator("#charge-form").is_visible():
        code = page.locator("#charge-code").inner_text()
        weigh(page, shown(page, "#charge-left"), lots.get(code, ""))
    steps = batch_steps(batch)
    assert any(step.changes for step in steps)
    assert not any(step.is_addition for step in steps)
    with page.expect_navigation():
        page.get_by_role("button", name="All is in: the batch is mixed").click()
    with page.expect_navigation():
        page.get_by_role("link", name="Readings and release", exact=True).click()

    window = batch.load_plan.density_window
    page.get_by_label("Density read, lb/gal").fill(
        f"{(window.low_lb_per_gal + window.high_lb_per_gal) / 2:.2f}"
    )
    page.get_by_label("Temperature, °F").fill("68")
    page.get_by_label("pH", exact=True).fill("7.2")
    page.get_by_label("Appearance").select_option("clear")
    with page.expect_navigation():
        page.get_by_role("button", name="Save this reading").click()
    expect(page.locator("main")).to_contain_text("inside its window")
    with page.expect_navigation():
        page.get_by_role("button", name="Release this batch").click()

    page.goto(f"/batches/{batch.number}/packages/")
    with page.expect_navigation():
        page.get_by_role("button", name="Filled: give them serials").click()
    serial = f"{batch.number}-01"
    expect(page.locator("main")).to_contain_text(serial)
    record = pdf_text(page, f"/batches/{batch.number}/record.pdf")
    assert all(lot in record for lot in lots.values())
    assert "60 lb over" in record
    assert serial in pdf_text(page, f"/batches/{batch.number}/package-labels.pdf")
    assert "calculated" in pdf_text(page, f"/batches/{batch.number}/parts/1/certificate.pdf")
    assert serial in pdf_text(page, f"/orders/{order.number}/packing-list.pdf")

    approve_labels(order)
    page.goto(f"/orders/{order.number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Mark as shipped").click()
    assert Order.objects.get(pk=order.pk).status == Order.Status.SHIPPED

    page.goto(f"/trace/?q={lots['TRZ']}")
    expect(page.locator("main")).to_contain_text(batch.number)
    expect(page.locator("main")).to_contain_text(company.name)
    page.goto(f"/trace/?q={serial}")
    for lot in lots.values():
        expect(page.locator("main")).to_contain_text(lot)

    shipped = order.ship_to
    day = timezone.localdate().isoformat()
    desk = tablet(office)
    tonnage = pdf_text(desk, f"/tonnage.pdf?state={shipped.state}&first={day}&last={day}")
    assert shipped.county in tonnage
    assert "24-0-3" in tonnage


def test_without_the_network_weighing_goes_on_and_everything_is_sent_in_order_afterwards(
    tablet: Open, batch: Batch
) -> None:
    page = tablet()
    page.goto(f"/batches/{batch.number}/charge/")
    weigh(page, shown(page, "#charge-left"))
    page.context.set_offline(True)
    for waiting in ("1 weight is", "2 weights are"):
        stock = page.locator("#charge-stock").inner_text()
        page.locator("#charge-lot-choices input").first.check()
        page.locator("#charge-mass").fill(shown(page, "#charge-left"))
        page.get_by_role("button", name="Save this weight").click()
        expect(page.locator("#charge-network")).to_contain_text("Waiting for the network")
        expect(page.locator("#charge-network")).to_contain_text(f"{waiting} kept on this tablet")
        expect(page.locator("#charge-stock")).not_to_have_text(stock)
    expect(page.locator("main")).to_contain_text("on target, waiting for the network")
    assert Charge.objects.count() == 1

    # The tablet is put away; the page is opened again when the network is back.
    context = page.context
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(f"/batches/{batch.number}/charge/")
    expect(again.locator("#charge-network")).to_have_text("Everything is saved.")
    assert list(Charge.objects.order_by("pk").values_list("step", flat=True)) == [1, 2, 3]
    assert StockMovement.objects.filter(kind="used").count() == 2
    assert Charge.objects.filter(weighed_at__isnull=True).count() == 0


def test_an_answer_that_is_lost_on_its_way_back_charges_nothing_twice(
    tablet: Open, batch: Batch
) -> None:
    page = tablet()
    page.goto(f"/batches/{batch.number}/charge/")
    lost = []

    def lose_the_first_answer(route: Route) -> None:
        if lost or route.request.method != "POST":
            route.continue_()
            return
        lost.append(route.fetch().status)  # the server has it
        route.abort()  # the tablet never hears of it

    page.route("**/charge/", lose_the_first_answer)
    page.locator("#charge-mass").fill(shown(page, "#charge-left"))
    page.get_by_role("button", name="Save this weight").click()
    expect(page.locator("#charge-network")).to_contain_text("Waiting for the network")
    assert lost == [200]
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    assert Charge.objects.count() == 1


def test_a_late_answer_leaves_alone_what_is_being_typed(tablet: Open, batch: Batch) -> None:
    page = tablet()
    page.goto(f"/batches/{batch.number}/charge/")
    held: list[Route] = []
    page.route(
        "**/charge/",
        lambda route: route.continue_() if held else held.append(route),
    )
    page.locator("#charge-mass").fill(shown(page, "#charge-left"))
    page.get_by_role("button", name="Save this weight").click()
    expect(page.locator("#charge-number")).to_have_text("2")
    lot = page.locator("#charge-lot-choices input").first.get_attribute("value") or ""
    page.locator("#charge-lot").fill(lot)
    page.locator("#charge-mass").press_sequentially("12")
    held[0].continue_()
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    expect(page.locator("#charge-mass")).to_be_focused()
    page.keyboard.type("90")
    expect(page.locator("#charge-mass")).to_have_value("1290")
    expect(page.locator("#charge-lot")).to_have_value(lot)


def test_a_refused_weight_is_said_in_words_and_kept_until_a_person_decides(
    tablet: Open, batch: Batch
) -> None:
    page = tablet()
    page.goto(f"/batches/{batch.number}/charge/")
    weigh(page, shown(page, "#charge-left"))
    page.locator("#charge-lot").fill("L-1999-0001")
    expect(page.locator("#charge-lot-words")).to_contain_text("the server checks it")
    with page.expect_response("**/charge/") as answer:
        page.evaluate("document.getElementById('charge-mass').value = '10'")
        page.get_by_role("button", name="Save this weight").click()
    assert answer.value.status == 400
    expect(page.locator("#charge-refused")).to_contain_text("There is no lot L-1999-0001")
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    page.get_by_role("button", name="Throw this weight away").click()
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    assert Charge.objects.count() == 1


def test_without_javascript_the_plain_form_charges(tablet: Open, batch: Batch) -> None:
    page = tablet(script=False)
    page.goto(f"/batches/{batch.number}/charge/")
    for count in (1, 2):
        if page.locator("#charge-lot").is_visible():
            page.locator("#charge-lot-choices input").first.check()
        page.locator("#charge-mass").fill(shown(page, "#charge-left"))
        with page.expect_navigation():
            page.get_by_role("button", name="Save this weight").click()
        expect(page.locator("main")).to_contain_text("on target")
        assert Charge.objects.count() == count


@pytest.mark.parametrize("screen", ["charge", "quality", "packages", "planning"])
def test_the_plant_s_screens_fit_the_tablet_gloves_and_readers(
    tablet: Open, batch: Batch, plant_worker: User, screen: str
) -> None:
    if screen in ("quality", "packages"):
        charged_and_made(batch, plant_worker)
        read_density(batch, plant_worker)
    page = tablet()
    path = "/planning/" if screen == "planning" else f"/batches/{batch.number}/{screen}/"
    page.goto(path)
    if screen == "charge":
        weigh(page, str(int(shown(page, "#charge-left")) + 20))
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= TABLET["width"]
    small = page.evaluate(
        """least => [...document.querySelectorAll(
            '.charging button, .charging input:not([type=hidden]):not([type=radio]),'
            + '.charging select, .charging .charge-choice, .charging summary, .charging .btn,'
            + '.charging .charge-go')]
          .filter(each => each.offsetParent && each.getBoundingClientRect().height < least)
          .map(each => each.outerHTML.slice(0, 90))""",
        GLOVE_PX,
    )
    assert small == []
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
