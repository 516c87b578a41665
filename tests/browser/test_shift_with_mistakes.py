"""A shift in which everything that can be typed wrongly is, in a real browser.

Early overcharge, tenfold slip, wrong lot, two tablets, a change of shift with unsent weights and
a paper ticket: nothing of it may quietly go wrong.
"""

import re
from collections.abc import Callable
from time import monotonic, sleep
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Page, Route, expect

from blendshop.accounts.models import Company, User
from blendshop.roles import Role
from orders.models import Batch, Charge, PlanAddition, StockLot, TargetChange
from orders.planning.actions.planning import plan_batches
from orders.production.steps import batch_steps
from tests.browser.conftest import Open
from tests.factories import TankFactory, UserFactory
from tests.orders.planning.plant_cases import placed_order

SAVED = "Everything is saved."
REASON = "#charge-refused"


@pytest.fixture
def colleague(transactional_db: None) -> User:
    return UserFactory(email="kim@plant.example", name="Kim Colleague", role=Role.PLANT)


def _wait_for(is_so: Callable[[], bool], what: Callable[[], object] = bool) -> None:
    """Asks again until it is so; the browser's own waiting takes a promise for an answer."""
    end = monotonic() + 60
    while not is_so():
        assert monotonic() < end, what()
        sleep(0.1)


def _open(page: Page, batch: Batch) -> None:
    page.goto(f"/batches/{batch.number}/charge/")
    expect(page.locator("#charge-form, .charge-now").first).to_be_visible()


def _lot(code: str) -> str:
    return StockLot.objects.get(stock__code=code).code


def _figure(page: Page, place: str) -> int:
    return int(page.locator(place).inner_text().replace(",", ""))


def _scan(page: Page, code: str) -> None:
    page.locator("#charge-lot").fill("")
    page.locator("#charge-lot").press_sequentially(code)
    page.keyboard.press("Enter")


def _type(page: Page, pounds: int) -> None:
    page.locator("#charge-mass").fill(str(pounds))
    page.locator("#charge-mass").press("Enter")


def _saved(page: Page, count: int) -> None:
    _wait_for(lambda: Charge.objects.count() == count, lambda: Charge.objects.count())
    expect(page.locator("#charge-network")).to_have_text(SAVED)
    expect(page.locator(REASON)).to_be_hidden()


def _is_asked(page: Page, words: str, step: int) -> None:
    """The reason has the focus and the screen is still at the step."""
    expect(page.locator(REASON)).to_contain_text(words)
    expect(page.locator(REASON)).to_be_focused()
    expect(page.locator("#charge-number")).to_have_text(str(step))


def _sign_in(page: Page, user: User, url: str) -> None:
    client = Client()
    client.force_login(user)
    cookie = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": url}])


def test_a_shift_with_every_mistake_in_it(
    tablet: Open,
    batch: Batch,
    plant_worker: User,
    colleague: User,
    rep: User,
    company: Company,
    live_server: Any,
) -> None:
    page = tablet(width=1280)
    _open(page, batch)
    _early_overcharge_after_a_tenfold_slip(page, batch)
    _wrong_lot_with_and_without_network(page)
    _two_tablets(page, tablet(width=1280), batch)
    _change_of_shift(page, batch, plant_worker, colleague, live_server.url)

    with page.expect_navigation():
        page.get_by_role("button", name="All is in: the batch is mixed").click()
    batch.refresh_from_db()
    assert batch.status == "made"
    assert {charge.who for charge in batch.charges.all()} == {"Pat Plant"}

    _paper_ticket(page, rep, company, plant_worker)


def _early_overcharge_after_a_tenfold_slip(page: Page, batch: Batch) -> None:
    target = _figure(page, "#charge-left")
    _type(page, 10 * target)
    _is_asked(page, "above the target", step=1)
    assert not Charge.objects.exists()
    page.get_by_role("button", name="No, correct it").click()
    expect(page.locator("#charge-mass")).to_be_focused()
    _type(page, target + 100)
    _is_asked(page, "100 lb above the target", step=1)
    page.keyboard.press("Enter")  # no answer to a question
    assert not Charge.objects.exists()
    page.get_by_role("button", name="Yes, save it").click()
    _saved(page, 1)
    before = {step.number: step.target_lb for step in batch_steps(batch)}
    expect(page.locator(".charge-correction")).to_contain_text("New targets")
    with page.expect_navigation():
        page.get_by_role("button", name="Accept this correction").click()
    after = {step.number: step.target_lb for step in batch_steps(batch)}
    assert after.keys() == before.keys()
    assert sum(after.values()) > sum(before.values())
    assert TargetChange.objects.exists()
    assert not PlanAddition.objects.exists()
    expect(page.locator(".charge-correction")).to_have_count(0)


def _wrong_lot_with_and_without_network(page: Page) -> None:
    right, wrong = _lot("UAN"), _lot("KAC")
    target = _figure(page, "#charge-left")
    for is_away in (False, True):
        page.context.set_offline(is_away)
        _scan(page, wrong)
        expect(page.locator("#charge-lot-words")).to_have_text(
            re.compile(f"{wrong} is potassium acetate solution, not urea ammonium nitrate")
        )
        expect(page.locator("#charge-lot")).to_be_focused()
        _type(page, target)
        expect(page.locator("#charge-lot")).to_be_focused()
        expect(page.locator("#charge-number")).to_have_text("2")
    _scan(page, right)
    expect(page.locator("#charge-lot-words")).to_contain_text("keep every promise")
    _type(page, 10 * target)
    _is_asked(page, "Is that really in the tank?", step=2)
    page.get_by_role("button", name="No, correct it").click()
    _type(page, target)
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    assert Charge.objects.count() == 1
    page.context.set_offline(False)
    _saved(page, 2)
    assert Charge.objects.get(step=2).lot.code == right


def _two_tablets(page: Page, second: Page, batch: Batch) -> None:
    _open(second, batch)
    expect(second.locator("#charge-number")).to_have_text("3")
    lot, target = _lot("KAC"), _figure(page, "#charge-left")
    _scan(page, lot)
    _type(page, target)
    _saved(page, 3)
    _scan(second, lot)
    _type(second, target - 4)
    _is_asked(second, f"{target:,} lb of potassium acetate solution is in already", step=3)
    assert Charge.objects.count() == 3
    with second.expect_navigation():
        second.get_by_role("button", name="Throw this weight away").click()
    expect(second.locator("#charge-number")).to_have_text("4")
    assert Charge.objects.count() == 3
    second.close()


def _change_of_shift(page: Page, batch: Batch, worker: User, colleague: User, url: str) -> None:
    def lose_weights(route: Route) -> None:
        if route.request.method == "POST":
            route.abort()
        else:
            route.continue_()

    page.route("**/charge/", lose_weights)
    lot, target = _lot("TRZ"), _figure(page, "#charge-left")
    _scan(page, lot)
    _type(page, target)
    expect(page.locator("#charge-network")).to_contain_text("1 weight is kept on this tablet")
    page.get_by_role("button", name="Sign out").click()
    asked = page.locator("#unsent-weights")
    expect(asked).to_contain_text("1 weight is not sent yet")
    expect(asked).to_contain_text(batch.number)
    page.get_by_role("button", name="Stay signed in").click()
    expect(asked).to_have_count(0)
    page.get_by_role("button", name="Sign out").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Sign out all the same").click()

    page.unroute("**/charge/")
    _sign_in(page, colleague, url)
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    _open(page, batch)
    others = page.locator("#charge-others")
    expect(others).to_contain_text(f"{target} lb for step 4, typed by Pat Plant")
    expect(page.locator("#charge-network")).to_contain_text("for somebody else")
    page.evaluate("window.dispatchEvent(new Event('online'))")  # whatever asks it to send
    page.reload()
    expect(others).to_contain_text("typed by Pat Plant")
    assert not sent
    assert Charge.objects.count() == 3

    _sign_in(page, worker, url)
    _open(page, batch)
    _saved(page, 4)
    assert Charge.objects.get(step=4).who == "Pat Plant"
    expect(others).to_be_hidden()


def _paper_ticket(page: Page, rep: User, company: Company, worker: User) -> None:
    revision = Batch.objects.get().parts.get().order_line.revision
    order = placed_order(rep, company, quantity=2, revision=revision)
    tank = TankFactory(name="Tank 2", capacity_gal=1500)
    (batch,) = plan_batches(order=order, tank=tank, acting_user=worker)
    page.goto(f"/batches/{batch.number}/")
    with page.expect_navigation():
        page.get_by_role("link", name="Made from the paper ticket").click()
    for step in batch_steps(batch):
        page.locator(f"#id_mass_{step.number}_1").fill(str(step.target_lb))
        if not step.is_water:
            page.locator(f"#id_lot_{step.number}_1").fill(_lot(step.code))
    page.locator("#id_lot_2_1").fill(_lot("KAC"))
    with page.expect_navigation():
        page.get_by_role("button", name="Save the ticket").click()
    expect(page.locator("#id_lot_2_1_error")).to_contain_text("is potassium acetate solution, not")
    assert not batch.charges.exists()
    expect(page.locator("#id_mass_3_1")).to_have_value(str(batch_steps(batch)[2].target_lb))
    page.locator("#id_lot_2_1").fill(_lot("UAN"))
    with page.expect_navigation():
        page.get_by_role("button", name="Save the ticket").click()
    batch.refresh_from_db()
    assert batch.status == "made"
    assert batch.charges.count() == 4
