"""A charging screen opened again while the network is away, on a tablet that people share."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Browser, Error, Page, expect

from blendshop.accounts.models import User
from orders.models import Batch, Charge, StockLot, StockMovement
from tests.browser.cut_network import Wire

#: What chromium itself writes on the console when the network is away.
EXPECTED = re.compile(r"net::ERR_")
KEPT = "async () => !!(await caches.match(location.pathname))"


@pytest.fixture
def wire(live_server: Any) -> Iterator[Wire]:
    wire = Wire(live_server.thread.host, live_server.thread.port)
    yield wire
    wire.close()


@pytest.fixture
def page(batch: Batch, plant_worker: User, browser: Browser, wire: Wire) -> Iterator[Page]:
    """The charging screen, open and kept on the tablet."""
    context = browser.new_context(base_url=wire.url)
    client = Client()
    client.force_login(plant_worker)
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": wire.url}])
    page, problems = context.new_page(), []
    page.on(
        "console",
        lambda told: (
            problems.append(told.text)
            if told.type in ("error", "warning") and not EXPECTED.search(told.text)
            else None
        ),
    )
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(f"/batches/{batch.number}/charge/")
    page.wait_for_function(KEPT)
    page.reload()  # from here on the worker sees what is opened
    yield page
    context.close()
    assert not problems, problems


def _reopen(page: Page) -> None:
    """Reload; a busy machine may have stopped the worker, and the next try starts it again."""
    address = page.url
    for _ in range(4):
        try:
            page.goto(address)
        except Error:
            page.wait_for_timeout(1000)
        else:
            return
    page.goto(address)


def _weigh(page: Page) -> None:
    if page.locator("#charge-lots").is_visible():
        page.locator("#charge-lot-choices input").first.check()
    left = page.locator("#charge-left").inner_text().replace(",", "")
    page.locator("#charge-mass").fill(left)
    page.get_by_role("button", name="Save this weight").click()


def test_weights_go_on_after_a_reload_without_network_and_arrive_once(
    page: Page, wire: Wire
) -> None:
    wire.cut()
    _weigh(page)
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    _reopen(page)
    expect(page.locator("#charge-kept")).to_contain_text("Shown from this tablet's memory")
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    expect(page.locator("#charge-number")).to_have_text("2")
    _weigh(page)
    expect(page.locator("#charge-network")).to_contain_text("2 weights are kept on this tablet")
    assert Charge.objects.count() == 0
    wire.mend()
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    expect(page.locator("#charge-kept")).to_be_hidden()
    assert list(Charge.objects.order_by("pk").values_list("step", flat=True)) == [1, 2]
    used = StockMovement.objects.get(kind="used")
    lot = StockLot.objects.get(pk=used.lot_id)
    assert lot.on_hand_lb == lot.received_lb + used.mass_lb


def test_a_weight_saved_before_the_network_went_away_is_not_asked_for_again(
    page: Page, wire: Wire
) -> None:
    _weigh(page)
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    expect(page.locator("#charge-number")).to_have_text("2")
    wire.cut()
    _reopen(page)
    expect(page.locator("#charge-kept")).to_contain_text("Shown from this tablet's memory")
    expect(page.locator("#charge-number")).to_have_text("2")
    expect(page.locator("tr[data-step='1'] [data-stands]")).to_have_text("on target")
    expect(page.locator("h1 .status")).to_have_text("being charged")


def test_after_signing_out_nothing_is_left_on_the_tablet(
    page: Page, batch: Batch, wire: Wire
) -> None:
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/people/**")
    page.goto("/people/login/")
    page.wait_for_function("async () => !(await caches.has('charging-screens'))")
    wire.cut()
    with pytest.raises(Exception, match="net::ERR_"):
        page.goto(f"/batches/{batch.number}/charge/")


def test_neither_other_pages_nor_papers_are_kept(page: Page, batch: Batch) -> None:
    page.goto(f"/batches/{batch.number}/")
    page.goto(f"/batches/{batch.number}/charge/")
    names = page.evaluate(
        "async () => (await (await caches.open('charging-screens')).keys())"
        ".map((each) => new URL(each.url).pathname)"
    )
    screens = [name for name in names if not name.startswith("/static/")]
    assert screens == [f"/batches/{batch.number}/charge/"]
