"""A session that ends while a page is open: signing in over it, by the same person alone."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from allauth.mfa.totp.internal.auth import TOTP
from django.contrib.sessions.models import Session
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, FrameLocator, Page, expect

from blendshop.accounts.models import User
from formulas.models import BlendRevision
from tests.accounts.conftest import SECRET, code_of
from tests.factories import PASSWORD

pytestmark = pytest.mark.usefixtures("shop")

WISH = "/blend/?N_min=24&slow_min=50&K2O_min=2"


@pytest.fixture
def context_of(browser: Browser, live_server: Any) -> Iterator[Callable[..., BrowserContext]]:
    """``context_of(user)``: refused requests may stand on its console."""
    contexts = []

    def opened(user: User, *, script: bool = True) -> BrowserContext:
        context = browser.new_context(base_url=live_server.url, java_script_enabled=script)
        contexts.append(context)
        _signed_in_as(context, user, live_server.url)
        return context

    yield opened
    for context in contexts:
        context.close()


def _signed_in_as(context: BrowserContext, user: User, url: str) -> None:
    client = Client()
    client.force_login(user)
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": url}])


def _sign_in(frame: FrameLocator, user: User) -> None:
    frame.get_by_label("Email").fill(user.email)
    frame.get_by_label("Password", exact=True).fill(PASSWORD)
    frame.get_by_role("button", name="Sign in").click()


def _wait_for_the_parts(page: Page) -> None:
    """Curve, release and label follow an answer one by one, the label's request as the last."""
    expect(page.locator("#label-body")).to_contain_text("24-0-3")
    expect(page.locator(".htmx-request")).to_have_count(0)


def test_the_person_signs_in_over_the_page_with_both_factors_and_goes_on(
    rep: User, context_of: Callable[..., BrowserContext]
) -> None:
    page = context_of(rep).new_page()
    page.goto(WISH)
    expect(page.locator("#label-body .draft-mark")).to_be_attached()
    page.evaluate("window.stillHere = true")
    page.locator("#name").fill("Of the call")
    Session.objects.all().delete()
    TOTP.activate(rep, SECRET)
    page.locator("#K2O_min").fill("3")
    dialog = page.locator("#sign-in-again")
    expect(dialog).to_be_visible()
    frame = page.frame_locator("#sign-in-again iframe")
    expect(frame.locator("nav")).to_be_hidden()
    _sign_in(frame, rep)
    frame.get_by_label("Code").fill(code_of(SECRET))
    frame.get_by_role("button", name="Sign in").first.click()
    expect(dialog).to_be_hidden()
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-3")
    expect(page.locator("#name")).to_have_value("Of the call")
    assert page.evaluate("window.stillHere")
    _wait_for_the_parts(page)
    # A form that leads on waits likewise.
    Session.objects.all().delete()
    page.get_by_role("button", name="Save and quote").click()
    expect(dialog).to_be_visible()
    _sign_in(frame, rep)
    frame.get_by_label("Code").fill(code_of(SECRET, 1))
    frame.get_by_role("button", name="Sign in").first.click()
    page.wait_for_url("**/quotes/new/**")
    assert BlendRevision.objects.get().blend.name == "Of the call"


def test_somebody_elses_sign_in_in_another_tab_covers_the_page_and_keeps_its_text(
    rep: User, formulator: User, context_of: Callable[..., BrowserContext], live_server: Any
) -> None:
    context = context_of(rep)
    page = context.new_page()
    page.goto("/quotes/new/")
    page.get_by_label("Notes").fill("Leave at gate 2")
    _signed_in_as(context, formulator, live_server.url)
    page.get_by_role("button", name="Save draft").last.click()
    dialog = page.locator("#sign-in-again")
    expect(dialog).to_contain_text("signed in as somebody else")
    page.keyboard.press("Escape")
    expect(dialog).to_be_visible()
    _signed_in_as(context, rep, live_server.url)
    dialog.get_by_role("button", name="Go on").click()
    expect(dialog).to_be_hidden()
    expect(page.locator("main")).to_contain_text("This field is required")  # it was sent
    expect(page.get_by_label("Notes")).to_have_value("Leave at gate 2")


def test_a_page_left_idle_is_covered_and_not_thrown_away(
    rep: User, context_of: Callable[..., BrowserContext]
) -> None:
    page = context_of(rep).new_page()
    page.goto("/quotes/new/")
    page.get_by_label("Notes").fill("Leave at gate 2")
    Session.objects.all().delete()
    page.evaluate("localStorage.setItem('blendshop.used', 1)")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    dialog = page.locator("#sign-in-again")
    expect(dialog).to_be_visible()
    expect(dialog).to_have_class("sign-in-again covers")
    _sign_in(page.frame_locator("#sign-in-again iframe"), rep)
    expect(dialog).to_be_hidden()
    expect(page.get_by_label("Notes")).to_have_value("Leave at gate 2")


def test_without_a_script_what_was_typed_comes_back_after_sign_in(
    rep: User, context_of: Callable[..., BrowserContext]
) -> None:
    page: Page = context_of(rep, script=False).new_page()
    page.goto(WISH)
    page.locator("#K2O_min").fill("3")
    page.locator("#name").fill("Of the call")
    Session.objects.all().delete()
    page.get_by_role("button", name="Work out the blend").click()
    page.get_by_label("Email").fill(rep.email)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("#answer .verdict .grade")).to_have_text("24-0-3")
    expect(page.locator("#name")).to_have_value("Of the call")
    page.locator("#K2O_min").fill("2")  # and what is typed is what is saved
    page.get_by_role("button", name="Save and quote").click()
    page.wait_for_url("**/quotes/new/**")
    asked = {each.nutrient: each.min for each in BlendRevision.objects.get().wished.targets}
    assert asked["K2O"] == 2.0
