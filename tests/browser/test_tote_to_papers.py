"""A load that went off its plan, from the first weight to its papers, a recall and the next shift.

Pages are used by the people whose work it is; other orders stand beside it as the plant has them.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from blendshop.accounts.models import Company, User
from orders.models import Batch, Order, StockLot, Tank
from orders.ordering.actions import mark_shipped
from orders.planning.actions.planning import plan_batches, plan_together
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.packaging import fill_packages
from orders.production.steps import batch_steps
from tests.browser.conftest import Open
from tests.browser.plant_pages import pdf_text, shown, weigh
from tests.browser.told_papers import LABELS, Load, assert_said_alike, fetched, label_texts
from tests.factories import CompanyFactory, ShipToFactory, TankFactory
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow
from tests.orders.production.charging_cases import charge_all, new_key, read_density, received

GRADE: Final = "24-0-3"
WEIGHED: Final = ("2750", "2749.5")
OVER_LB: Final = 150


@dataclass
class Plant:
    """``order`` is the story's; a tote each of ``beside`` is shipped and waits; one is begun."""

    order: Order
    batch: Batch
    lots: dict[str, StockLot]
    beside: Batch
    shipped: Order
    waiting: Order
    begun: Batch


@pytest.fixture
def plant(transactional_db: None, rep: User, company: Company, plant_worker: User) -> Plant:
    make_shop()
    blend = save_half_slow(rep, None)
    lots = {code: received(code, plant_worker) for code in ("UAN", "TRZ", "KAC")}
    order = placed_order(rep, company, revision=blend, quantity=2)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)

    def tote_for(name: str) -> Order:
        # Another state: an approval there says nothing of the label of the story.
        place = ShipToFactory(company=CompanyFactory(name=name), state="PA")
        return placed_order(rep, place.company, revision=blend, quantity=1, ship_to=place)

    shipped, waiting = tote_for("Cedar Turf"), tote_for("Dale Lawns")
    beside = _filled_together(shipped, waiting, lots, plant_worker)
    approve_labels(shipped)
    shipped.refresh_from_db()
    mark_shipped(order=shipped, acting_user=plant_worker)
    begun = _begun(tote_for("Elm Lawns"), lots, plant_worker)
    Order.objects.update(due_on=timezone.localdate())
    return Plant(order, batch, lots, beside, shipped, waiting, begun)


def _filled_together(first: Order, second: Order, lots: dict[str, StockLot], by: User) -> Batch:
    (batch,) = plan_together(
        lines=[first.lines.get(), second.lines.get()],
        tank=TankFactory(name="Tank 2"),
        acting_user=by,
    )
    charge_all(batch, lots, by)
    mark_made(batch=batch, acting_user=by)
    batch.refresh_from_db()
    read_density(batch, by)
    release_batch(batch=batch, acting_user=by)
    batch.refresh_from_db()
    for order, lb in ((first, "2700"), (second, "2711")):
        part = batch.parts.get(order_line__order=order)
        fill_packages(part=part, net_lb=[Decimal(lb)], key=new_key(), acting_user=by)
    return batch


def _begun(order: Order, lots: dict[str, StockLot], by: User) -> Batch:
    """Everything but the last stock is in."""
    (batch,) = plan_batches(order=order, tank=TankFactory(name="Tank 3"), acting_user=by)
    for step in batch_steps(batch)[:-1]:
        charge_lot(
            batch=batch,
            step=step.number,
            lot=lots.get(step.code),
            mass_lb=step.target_lb,
            key=new_key(),
            acting_user=by,
        )
    return batch


def test_a_load_off_its_plan_is_the_same_on_every_paper_and_gone_from_the_next_shift(
    plant: Plant,
    tablet: Open,
    page_for: Callable[..., Page],
    formulator: User,
    office: User,
    company: Company,
) -> None:
    worker, reader = tablet(), page_for(formulator)
    _charge_with_an_overcharge(worker, plant)
    density = _read_and_release(worker, plant.batch)
    serials = _fill(worker, plant.batch)
    _is_refused_before_approval(worker, plant)
    guarantees = _approve(reader, plant.batch)
    forms = [pct for line, pct in guarantees.items() if line.endswith(" Nitrogen")]
    assert guarantees["Total Nitrogen (N)"] == sum(forms) == 24
    assert guarantees["Soluble Potash (K2O)"] == 3
    _ship(worker, plant)

    load = Load(
        number=plant.batch.number,
        order_number=plant.order.number,
        grade=GRADE,
        guarantees=guarantees,
        density=density,
        package_lb=dict(zip(serials, map(Decimal, WEIGHED), strict=True)),
        lots=tuple(lot.code for lot in plant.lots.values()),
    )
    day = timezone.localdate().isoformat()
    said = fetched(page_for(office), load, plant.order.ship_to.state, day)
    assert_said_alike(said, load)
    assert not any("DRAFT" in said[name] for name in LABELS)

    _close(worker, plant.batch)
    _recall(reader, plant, load, company)
    _the_day(worker, plant)


def _charge_with_an_overcharge(page: Page, plant: Plant) -> None:
    page.goto(f"/batches/{plant.batch.number}/")
    with page.expect_navigation():
        page.get_by_role("link", name="Weigh and charge").click()
    weigh(page, shown(page, "#charge-left"))
    expect(page.locator("#charge-code")).to_have_text("UAN")
    expect(page.locator("#charge-lot")).to_be_focused()
    page.keyboard.type(plant.lots["UAN"].code)
    page.keyboard.press("Enter")
    expect(page.locator("#charge-mass")).to_be_focused()
    page.keyboard.type(str(int(shown(page, "#charge-left")) + OVER_LB))
    page.keyboard.press("Enter")
    expect(page.locator("#charge-refused")).to_contain_text(f"{OVER_LB} lb above the target")
    page.get_by_role("button", name="Yes, save it").click()
    expect(page.get_by_role("heading", name="Correction")).to_be_visible()
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    with page.expect_navigation():
        page.get_by_role("button", name="Accept this correction").click()
    while page.locator("#charge-form").is_visible():
        lot = plant.lots.get(page.locator("#charge-code").inner_text())
        weigh(page, shown(page, "#charge-left"), lot.code if lot else "")
    expect(page.locator(".charge-correction")).to_have_count(0)
    with page.expect_navigation():
        page.get_by_role("button", name="All is in: the batch is mixed").click()


def _read_and_release(page: Page, batch: Batch) -> str:
    """The density as papers write it: read at the plan's own temperature, so nothing is carried."""
    with page.expect_navigation():
        page.get_by_role("link", name="Readings and release", exact=True).click()
    window = batch.load_plan.density_window
    read = f"{(window.low_lb_per_gal + window.high_lb_per_gal) / 2:.2f}"
    page.get_by_label("Density read, lb/gal").fill(read)
    page.get_by_label("Temperature, °F").fill(f"{window.temperature_f:g}")
    page.get_by_label("pH", exact=True).fill("7.2")
    page.get_by_label("Appearance").select_option("clear")
    with page.expect_navigation():
        page.get_by_role("button", name="Save this reading").click()
    expect(page.locator("main")).to_contain_text("inside its window")
    with page.expect_navigation():
        page.get_by_role("button", name="Release this batch").click()
    return f"{read} lb/gal at {window.temperature_f:g} °F"


def _fill(page: Page, batch: Batch) -> list[str]:
    """Two totes, each of its own weight; their serials as the page gives them."""
    with page.expect_navigation():
        page.get_by_role("link", name="Packages", exact=True).click()
    for pounds in WEIGHED:
        page.get_by_label("Packages filled").fill("1")
        page.get_by_label("Net weight of each, lb").fill(pounds)
        with page.expect_navigation():
            page.get_by_role("button", name="Filled: give them serials").click()
    rows = page.get_by_role("region", name="Filled packages, table").locator("tbody th")
    expect(rows).to_have_count(len(WEIGHED))
    return sorted(rows.all_inner_texts())


def _is_refused_before_approval(page: Page, plant: Plant) -> None:
    """The page offers no shipping, and a press on one that was opened before is refused."""
    page.goto(f"/orders/{plant.order.number}/")
    expect(page.locator("main")).to_contain_text("The order ships when these labels are approved:")
    expect(page.get_by_role("button", name="Mark as shipped")).to_have_count(0)
    token = page.locator("[name=csrfmiddlewaretoken]").first.get_attribute("value") or ""
    answer = page.request.post(
        f"/orders/{plant.order.number}/ship/", form={"csrfmiddlewaretoken": token}
    )
    assert answer.status == 409
    names = f"{plant.batch.number}, Half slow summer for {plant.order.company}"
    assert f"Its label is not approved: {names}. A formulator approves it" in answer.text()
    assert Order.objects.get(pk=plant.order.pk).status == Order.Status.MADE


def _approve(page: Page, batch: Batch) -> dict[str, Decimal]:
    """Read as a draft and approved; the guaranteed lines, as the page says them."""
    page.goto(f"/batches/{batch.number}/parts/1/label/")
    for name, text in label_texts(page, batch.number).items():
        assert "DRAFT" in text, name
    rows = page.get_by_role("region", name="Guarantees, table").locator("tbody tr").all()
    cells = [(row.locator("th").inner_text(), row.locator("td").last.inner_text()) for row in rows]
    for box in page.locator("form[action$='/approve/'] input[type=checkbox]").all():
        box.check()
    with page.expect_navigation():
        page.get_by_role("button", name="Approve this label").click()
    expect(page.locator("#approval")).to_contain_text("Label approved by Fran Form")
    return {line: Decimal(pct) for line, pct in cells if line != "Slow-release claim"}


def _ship(page: Page, plant: Plant) -> None:
    page.reload()
    with page.expect_navigation():
        page.get_by_role("button", name="Mark as shipped").click()
    expect(page.locator("body")).to_contain_text(f"{plant.order.number} is shipped.")


def _close(page: Page, batch: Batch) -> None:
    page.goto(f"/batches/{batch.number}/packages/")
    page.get_by_label("Left in the tank, lb").fill("100")
    page.get_by_label("Where a difference went").fill("Into a spare tote.")
    with page.expect_navigation():
        page.get_by_role("button", name="Close the batch").click()
    expect(page.locator("main")).to_contain_text("100 lb left in the tank as its heel")


def _recall(page: Page, plant: Plant, load: Load, company: Company) -> None:
    """A lot that is in all of it is called back: a letter for each customer that has something."""
    page.goto(f"/lots/{plant.lots['TRZ'].code}/")
    with page.expect_navigation():
        page.get_by_role("link", name="Recall it").click()
    page.get_by_label("Reason, for the plant").fill("Cloudy after a week.")
    page.get_by_label("What customers are told").fill("It may clog nozzles.")
    with page.expect_navigation():
        page.get_by_role("button", name="Open the recall").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Hold everything").click()
    expect(page.get_by_role("link", name=re.compile("^Letter to"))).to_have_count(2)

    def letter_to(name: str) -> str:
        link = page.get_by_role("link", name=f"Letter to {name}")
        return pdf_text(page, link.get_attribute("href") or "")

    own, other = letter_to(company.name), letter_to("Cedar Turf")
    serial = plant.beside.parts.get(order_line__order=plant.shipped).packages.get().serial
    for words in (load.number, *load.package_lb, f"{load.together_lb:,} lb", GRADE):
        assert words in own
    for words in (plant.beside.number, serial, "2,700 lb", GRADE):
        assert words in other
    for theirs in (plant.beside.number, "Cedar Turf"):
        assert theirs not in own
    for theirs in (load.number, company.name):
        assert theirs not in other


def _the_day(page: Page, plant: Plant) -> None:
    """What is left stands under its heading with what is left of it; what has gone does not."""
    page.goto("/day/")
    undone = page.locator("#undone")
    expect(undone.locator("h2")).to_have_text("Left undone")
    *_in, left = batch_steps(plant.begun)
    charge = undone.locator("li[data-kind=charge]")
    expect(charge).to_have_count(1)
    expect(charge).to_contain_text(plant.begun.number)
    expect(charge).to_contain_text(f"1 of {left.number} stocks not charged: {left.name}.")
    ship = undone.locator("li[data-kind=ship]")
    expect(ship).to_have_count(1)
    expect(ship).to_contain_text(plant.waiting.number)
    expect(ship).to_contain_text("For Dale Lawns")
    expect(ship).to_contain_text("made, not shipped")
    due = page.locator("#due")
    expect(due.locator("summary")).to_contain_text("0 late, 2 today, 0 tomorrow")
    for gone in (plant.order.number, plant.shipped.number, plant.batch.number):
        for place in (undone, due):
            expect(place).not_to_contain_text(gone)
