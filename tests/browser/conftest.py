"""A real browser against the live server. Every console error or warning fails the test."""

import os
import re
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.servers.basehttp import ServerHandler
from django.test import Client
from playwright.sync_api import Browser, Page, expect, sync_playwright

from blendshop.accounts.models import Company, User
from orders.models import Batch
from tests.orders.planning.plant_cases import make_shop
from tests.orders.production.charging_cases import lots_of, planned_batch

#: A plant's tablet, upright.
TABLET = {"width": 820, "height": 1180}
#: What chromium itself writes on the console when the network is away, a weight is refused or a
#: test wants no worker.
EXPECTED = re.compile(
    r"net::ERR_(INTERNET_DISCONNECTED|FAILED)|status of (400|409)|Worker registration blocked"
)

Open = Callable[..., Page]

#: The shell draws the same pages in two thirds of a whole browser's processor time.
_SHELL, _WHOLE = "/usr/bin/chromium-headless-shell", "/usr/bin/chromium"
CHROMIUM = os.environ.get("CHROMIUM", _SHELL if Path(_SHELL).exists() else _WHOLE)
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    missing = not Path(CHROMIUM).exists()
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if missing and "CI" not in os.environ:
                item.add_marker(pytest.mark.skip(reason=f"no browser at {CHROMIUM}"))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=60_000)  # a busy machine answers late, which is no fault
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGS)
        yield browser
        browser.close()


class RequestsUnderWay:
    """How many requests the live server is working on, from its first byte to the last.

    One count for the whole run, around the server's own handler: Django's signals of a request's
    beginning and end do not come in pairs when a browser has gone away.
    """

    def __init__(self) -> None:
        self._count, self._changed = 0, threading.Condition()

    def _add(self, by: int) -> None:
        with self._changed:
            self._count += by
            self._changed.notify_all()

    def all_end(self, timeout_s: float) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self._count == 0, timeout=timeout_s)

    def counting(self, run: Callable[..., None]) -> Callable[..., None]:
        def counted(handler: ServerHandler, application: Any) -> None:
            self._add(+1)
            try:
                run(handler, application)
            finally:
                self._add(-1)

        return counted


@pytest.fixture(scope="session")
def requests_under_way() -> Iterator[RequestsUnderWay]:
    under_way = RequestsUnderWay()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(ServerHandler, "run", under_way.counting(ServerHandler.run))
        yield under_way


@pytest.fixture(autouse=True)
def every_request_is_answered(
    requests_under_way: RequestsUnderWay, transactional_db: None
) -> Iterator[None]:
    """The server may still work for a page that was closed; its rows belong to this test.

    Autouse, so it ends after the pages are closed and before the database is put back.
    """
    yield
    assert requests_under_way.all_end(timeout_s=60), "a request without an end"


@pytest.fixture
def page_for(
    browser: Browser, transactional_db: None, live_server: Any
) -> Iterator[Callable[..., Page]]:
    """``page_for(user)`` opens a page with that person's session; ``None`` is a visitor.

    ``expected`` lets pass what chromium writes of a cut network or a refused form.
    """
    contexts = []
    problems: list[str] = []

    def open_page(
        user: User | None, *, width: int = 1366, height: int = 768, expected: bool = False
    ) -> Page:
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}
        )
        contexts.append(context)
        if user is not None:
            client = Client()
            client.force_login(user)
            cookie = client.cookies["sessionid"].value
            context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.on(
            "console",
            lambda message: (
                problems.append(f"{message.text} {message.location.get('url', '')}")
                if message.type in ("error", "warning")
                and not (expected and EXPECTED.search(message.text))
                else None
            ),
        )
        page.on("pageerror", lambda error: problems.append(str(error)))
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not problems, problems


@pytest.fixture
def tablet(
    transactional_db: None, plant_worker: User, browser: Browser, live_server: Any
) -> Iterator[Open]:
    """``tablet()`` opens a page of the plant worker's; any console error fails the test."""
    contexts, problems = [], []

    def open_page(
        user: User | None = None,
        *,
        script: bool = True,
        width: int = TABLET["width"],
        worker: bool = True,
    ) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": TABLET["height"]},
            java_script_enabled=script,
            service_workers="allow" if worker else "block",
        )
        contexts.append(context)
        client = Client()
        client.force_login(user or plant_worker)
        cookie = client.cookies["sessionid"].value
        context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.on(
            "console",
            lambda told: (
                problems.append(told.text)
                if told.type in ("error", "warning") and not EXPECTED.search(told.text)
                else None
            ),
        )
        page.on("pageerror", lambda error: problems.append(str(error)))
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not problems, problems


@pytest.fixture
def shop(transactional_db: None) -> None:
    """A plant that can price and blend."""
    make_shop()


@pytest.fixture
def batch(transactional_db: None, rep: User, company: Company, plant_worker: User) -> Batch:
    """Two totes planned as one load, and a plentiful lot of each stock of it."""
    batch = planned_batch(rep, company, plant_worker)
    lots_of(batch, plant_worker)
    return batch
