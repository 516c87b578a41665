"""What a person at the scale sees without scrolling, on a tablet upright and on a phone."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from blendshop.accounts.models import User
from formulas.engine.plant.load import ScaleKind
from orders.models import Batch, StockLot
from orders.production.actions.charging import charge_lot
from orders.production.steps import batch_steps
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import new_key, received

SIZES = [pytest.param((768, 1024), id="tablet"), pytest.param((390, 844), id="phone")]
PPE = (
    "Chemical splash goggles and a face shield while hoses are opened",
    "Gloves of nitrile or butyl rubber",
    "Apron and boots",
)
BIGGEST = """() => {
  const size = (node) => parseFloat(getComputedStyle(node).fontSize);
  const shown = [...document.querySelectorAll("main *")].filter(
    (node) => node.offsetParent && [...node.childNodes].some(
      (child) => child.nodeType === Node.TEXT_NODE && child.textContent.trim()),
  );
  const largest = ["charge-left", "charge-total"].map((id) => document.getElementById(id));
  const rest = shown.filter((node) => !largest.includes(node)).map(size);
  return { target: size(largest[0]), total: size(largest[1]), rest: Math.max(...rest) };
}"""


@pytest.fixture
def crowded(batch: Batch, plant_worker: User) -> Batch:
    """With protection, hazards, a long instruction, two scales and several lots a stock."""
    safety = tuple(
        replace(each, ppe=PPE, hazards=("Corrosive",)) for each in batch.load_plan.safety
    )
    steps = tuple(
        replace(
            step,
            instruction="Pour it slowly into the agitated tank, never water into acid.",
            scale=ScaleKind.FINE if step.code == "KAC" else ScaleKind.MAIN,
            tolerance_lb=step.scale_step_lb,
        )
        for step in batch.load_plan.steps
    )
    freeze_otherwise(batch, safety=safety, steps=steps)
    for code in ("UAN", "UAN", "KAC", "TRZ"):
        received(code, plant_worker)
    return batch


def _is_on_screen(page: Page, place: str) -> None:
    assert page.evaluate("scrollY") == 0
    box = page.locator(place).bounding_box()
    view: Any = page.viewport_size
    assert box is not None, place
    assert box["x"] >= 0, place
    assert box["y"] >= 0, place
    assert box["x"] + box["width"] <= view["width"], place
    assert box["y"] + box["height"] <= view["height"], (place, box)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("done", [0, 1, 2])
def test_target_total_fields_and_save_are_on_the_screen_without_scrolling(
    page_for: Callable[..., Page],
    crowded: Batch,
    plant_worker: User,
    size: tuple[int, int],
    done: int,
) -> None:
    for step in batch_steps(crowded)[:done]:
        charge_lot(
            batch=crowded,
            step=step.number,
            lot=StockLot.objects.filter(stock__code=step.code).first(),
            mass_lb=step.target_lb,
            key=new_key(),
            acting_user=plant_worker,
        )
    page = page_for(plant_worker, width=size[0], height=size[1])
    page.goto(f"/batches/{crowded.number}/charge/")
    expect(page.locator("#charge-network")).to_have_text("Everything is saved.")
    page.evaluate("scrollTo(0, 0)")
    for place in ("#charge-left", "#charge-total", "#charge-mass", "#charge-ppe", ".charge-save"):
        _is_on_screen(page, f"{place} >> visible=true")
    save = page.locator(".charge-save").first.bounding_box()
    mass = page.locator("#charge-mass").bounding_box()
    assert save is not None
    assert mass is not None
    assert mass["y"] + mass["height"] <= save["y"], "Save lies over the weight"
    found = page.evaluate(BIGGEST)
    assert found["target"] == found["total"] > found["rest"]


@pytest.mark.parametrize("size", SIZES)
def test_protection_is_one_line_that_opens_and_the_scale_is_named(
    page_for: Callable[..., Page], crowded: Batch, plant_worker: User, size: tuple[int, int]
) -> None:
    page = page_for(plant_worker, width=size[0], height=size[1])
    page.goto(f"/batches/{crowded.number}/charge/?step=3")
    line = page.locator("#charge-ppe")
    expect(line).to_contain_text("Wear: Chemical splash goggles")
    expect(page.locator("#charge-wear")).to_be_hidden()
    box = line.bounding_box()
    assert box is not None
    assert box["height"] <= 56
    line.click()
    expect(page.locator("#charge-wear")).to_contain_text("Hazards: Corrosive")
    expect(page.locator("#charge-scale")).to_have_text("on the small scale, 1 lb divisions")
    expect(page.locator("#charge-stop-line")).to_be_hidden()
    page.goto(f"/batches/{crowded.number}/charge/?step=4")
    expect(page.locator("#charge-scale")).to_have_text("on the main scale, 1 lb divisions")
    expect(page.locator("#charge-stop-line")).to_be_visible()
