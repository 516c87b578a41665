"""A charging screen opened again while the network is away, on a tablet that people share."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from playwright.sync_api import Browser, Page, expect

from blendshop.accounts.models import User
from orders.models import Batch, Charge, StockLot, StockMovement
from tests.browser.cut_network import Wire
from tests.browser.waits import wait_until

#: What chromium itself writes on the console when the network is away.
EXPECTED = re.compile(r"net::ERR_")
KEPT = "async () => (await (await caches.open('charging-screens')).keys()).map((each) => each.url)"
MODULES = Path(settings.STATICFILES_DIRS[0]) / "shop" / "charging"
#: The worker is at work on this page, and its store has the screen as opened now with every file of
#: ours that it loads. A copy's header says when it was kept, by the clock of this page.
MISSING = """async () => {
  const worker = navigator.serviceWorker.controller;
  if (document.readyState !== "complete") return ["the page"];
  if (!worker || worker.state !== "activated") return [`the worker: ${worker?.state}`];
  const loaded = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
  const named = [...document.querySelectorAll("script[src], link[rel=stylesheet]")].map(
    (each) => new URL(each.src || each.href),
  );
  // The browser fetches a page's icon by itself, past the worker and whenever it likes.
  const icon = document.querySelector("link[rel~=icon]")?.href;
  const files = [...loaded, ...named].filter(
    (url) => url.pathname.startsWith("/static/") && url.href !== icon,
  );
  const store = await caches.open("charging-screens");
  const keptAt = async (path) => {
    const copy = await store.match(path);
    return copy ? Date.parse(copy.headers.get("X-Kept-At")) : 0;
  };
  const missing = [];
  for (const url of files) if (!((await keptAt(url.pathname)) > 0)) missing.push(url.pathname);
  const screen = await keptAt(location.pathname);
  if (!(screen >= performance.timeOrigin)) missing.push(`${location.pathname} of ${screen}`);
  return files.length ? missing : ["no file"];
}"""


@pytest.fixture
def wire(live_server: Any) -> Iterator[Wire]:
    wire = Wire(live_server.thread.host, live_server.thread.port)
    yield wire
    wire.close()


@pytest.fixture
def first_visit(batch: Batch, plant_worker: User, browser: Browser, wire: Wire) -> Iterator[Page]:
    """The charging screen on a tablet that never saw it before."""
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
    yield page
    context.close()
    assert not problems, problems


@pytest.fixture
def page(first_visit: Page) -> Page:
    """The charging screen, open and kept on the tablet."""
    _wait_until_kept(first_visit)
    first_visit.reload()  # from here on the worker sees what is opened
    _wait_until_kept(first_visit)
    return first_visit


def _wait_until_kept(page: Page) -> None:
    wait_until(lambda: page.evaluate(MISSING) == [], lambda: page.evaluate(MISSING))


def _kept(page: Page) -> set[str]:
    """Paths the worker has a copy of."""
    return {urlsplit(address).path for address in page.evaluate(KEPT)}


def _weigh(page: Page) -> None:
    if page.locator("#charge-lots").is_visible():
        page.locator("#charge-lot-choices input").first.check()
    left = page.locator("#charge-left").inner_text().replace(",", "")
    page.locator("#charge-mass").fill(left)
    page.get_by_role("button", name="Save this weight").click()


def test_every_module_of_the_screen_is_kept_from_the_first_visit_on(
    first_visit: Page, wire: Wire
) -> None:
    modules = {f"{settings.STATIC_URL}shop/charging/{file.name}" for file in MODULES.iterdir()}
    _wait_until_kept(first_visit)
    assert {*modules, urlsplit(first_visit.url).path} <= _kept(first_visit)
    wire.cut()
    first_visit.reload()
    _weigh(first_visit)
    expect(first_visit.locator("#charge-network")).to_contain_text("1 weight is kept")
    expect(first_visit.locator("#charge-number")).to_have_text("2")


def test_weights_go_on_after_a_reload_without_network_and_arrive_once(
    page: Page, wire: Wire
) -> None:
    wire.cut()
    _weigh(page)
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    page.reload()
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
    page.reload()
    expect(page.locator("#charge-kept")).to_contain_text("Shown from this tablet's memory")
    expect(page.locator("#charge-number")).to_have_text("2")
    expect(page.locator("tr[data-step='1'] [data-stands]")).to_have_text("on target")
    expect(page.locator("h1 .status")).to_have_text("being charged")


def test_an_answer_cut_off_in_the_middle_does_not_replace_what_is_kept(
    page: Page, wire: Wire
) -> None:
    wire.cut_in_next_answer()
    page.evaluate(
        "() => navigator.serviceWorker.controller"
        ".postMessage({ screen: location.pathname, files: [] })"
    )
    assert wire.is_dead.wait(timeout=60)
    for _ in range(3):  # the worker may still be about to keep what it got
        page.reload()
        expect(page.locator("#charge-kept")).to_contain_text("Shown from this tablet's memory")


def test_after_signing_out_nothing_is_left_on_the_tablet(
    page: Page, batch: Batch, wire: Wire
) -> None:
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/people/**")
    page.goto("/people/login/")
    wait_until(lambda: not page.evaluate("caches.has('charging-screens')"))
    wire.cut()
    with pytest.raises(Exception, match="net::ERR_"):
        page.goto(f"/batches/{batch.number}/charge/")


def test_neither_other_pages_nor_papers_are_kept(page: Page, batch: Batch) -> None:
    page.goto(f"/batches/{batch.number}/")
    page.goto(f"/batches/{batch.number}/charge/")
    screens = {name for name in _kept(page) if not name.startswith("/static/")}
    assert screens == {f"/batches/{batch.number}/charge/"}


#: As if the screens had been kept, and last touched, longer ago than a session lives.
LONG_AGO = """async () => {
  await caches.delete("charging-used");
  const store = await caches.open("charging-screens");
  for (const request of await store.keys()) {
    const copy = await store.match(request);
    const headers = new Headers(copy.headers);
    headers.set("X-Kept-At", new Date(Date.now() - 24 * 3600 * 1000).toISOString());
    await store.put(request, new Response(await copy.arrayBuffer(), { headers }));
  }
}"""


def test_a_kept_screen_that_nobody_touched_for_the_idle_limit_is_not_shown(
    page: Page, batch: Batch, wire: Wire
) -> None:
    wire.cut()
    page.evaluate(LONG_AGO)
    with pytest.raises(Exception, match="net::ERR_"):
        page.goto(f"/batches/{batch.number}/charge/")
    wire.mend()
    other = page.context.new_page()
    other.goto("/batches/")
    assert f"/batches/{batch.number}/charge/" not in _kept(other)


def test_whoever_still_weighs_without_network_keeps_the_screen(page: Page, wire: Wire) -> None:
    wire.cut()
    page.evaluate(LONG_AGO)
    page.evaluate("() => navigator.serviceWorker.controller.postMessage({ used: true })")
    wait_until(lambda: page.evaluate("caches.has('charging-used')"))
    page.reload()
    expect(page.locator("#charge-kept")).to_contain_text("Shown from this tablet's memory")


def test_an_idle_page_leads_to_sign_in_and_takes_what_was_kept_but_no_unsent_weight(
    page: Page, plant_worker: User
) -> None:
    page.evaluate("localStorage.setItem('blendshop.charges.B-1', '[{\"key\": \"1\"}]')")
    Session.objects.all().delete()  # as the server ends one
    page.evaluate("localStorage.setItem('blendshop.used', 1)")
    with page.expect_navigation(url=re.compile("/people/login/")):
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    wait_until(lambda: not page.evaluate("caches.has('charging-screens')"))
    assert page.evaluate("localStorage.getItem('blendshop.charges.B-1')")
