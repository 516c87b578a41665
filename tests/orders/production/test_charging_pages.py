"""The charging screen as pages: a plain form, the queue's JSON, no price for the plant."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from orders.inventory.actions.lot_quality import hold_lot
from orders.models import Batch, Charge, PackageSerial, QualityReading, ReversedCharge, StockLot
from orders.models.pounds import written_pounds
from orders.production.actions.batches import mark_made, release_batch
from orders.production.steps import batch_steps
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    lots_of,
    new_key,
    read_density,
    received,
)


@pytest.fixture
def plant(signed_in, plant_worker):
    return signed_in(plant_worker)


def url(batch, name="charge"):
    return f"/batches/{batch.number}/{name}/"


def form_of(page):
    """What a browser without JavaScript would send of the charge form."""
    html = page.content.decode()
    return {
        "key": re.search(r'name="key" value="([^"]+)"', html)[1],
        "step": re.search(r'name="step"[^>]*value="(\d+)"', html)[1],
        "person": re.search(r'name="person" value="(\d+)"', html)[1],
        "charged_lb": re.search(r'name="charged_lb"[^>]*value="([\d.]+)"', html)[1],
    }


def test_the_screen_says_what_to_weigh_how_closely_and_where_to_stop(batch, lots, plant):
    steps = tuple(replace(step, tolerance_lb=None) for step in batch.load_plan.steps)
    freeze_otherwise(batch, steps=steps)
    step = batch_steps(batch)[0]
    html = plant.get(url(batch)).content.decode()
    assert step.name in html
    assert f"{step.target_lb:,.0f}" in html
    assert f'± <span id="charge-tolerance">{written_pounds(step.tolerance_lb)}<' in html
    assert "one scale step, or 0.5 %" in html
    assert "$" not in html


def test_the_screen_says_what_to_wear_for_the_stock_at_hand(batch, lots, plant):
    first, *others = batch.load_plan.safety
    told = replace(first, ppe=("Chemical goggles",), hazards=("Danger: corrosive", "Slippery"))
    freeze_otherwise(batch, safety=(told, *others))
    html = plant.get(url(batch)).content.decode()
    assert "Wear: Chemical goggles. Hazards: Danger: corrosive. Slippery. Read the stock" in html
    assert "the SDS decides" in plant.get(f"{url(batch)}?step=2").content.decode()


def test_without_javascript_the_plain_form_saves_a_weight_and_a_resend_saves_none(
    batch, lots, plant
):
    step = batch_steps(batch)[0]
    form = {**form_of(plant.get(url(batch))), "mass_lb": str(step.target_lb)}
    for _ in range(2):
        answer = plant.post(url(batch), form)
        assert answer.status_code == 302
    assert Charge.objects.get().mass_lb == step.target_lb
    page = plant.get(url(batch)).content.decode()
    assert "on target" in page
    assert batch_steps(batch)[1].name in page


def test_a_refused_plain_form_keeps_what_was_typed_and_says_why(batch, lots, plant, plant_worker):
    charge_first(batch, plant)
    form = {**form_of(plant.get(url(batch))), "mass_lb": "100", "lot": "L-1999-9999"}
    answer = plant.post(url(batch), form)
    assert answer.status_code == 400
    html = answer.content.decode()
    assert "There is no lot L-1999-9999" in html
    assert 'value="L-1999-9999"' in html
    assert form["key"] in html
    assert Charge.objects.count() == 1


def charge_first(batch, client):
    step = batch_steps(batch)[0]
    form = {"key": new_key(), "step": 1, "mass_lb": str(step.target_lb)}
    assert client.post(url(batch), form).status_code == 302


def test_the_queue_is_answered_in_json_with_the_screen_as_it_is_now(
    batch, lots, plant, plant_worker
):
    charge_first(batch, plant)
    step = batch_steps(batch)[1]
    lot = lots[step.code]
    sent = {
        "key": new_key(),
        "step": 2,
        "lot": lot.code.lower(),
        "mass_lb": str(step.target_lb + 40),
        "person": plant_worker.pk,
        "weighed_at": "2026-03-02T14:05:06.789Z",
    }
    headers = {"Accept": "application/json"}
    first, again = (plant.post(url(batch), sent, headers=headers).json() for _ in range(2))
    assert first["saved"]
    assert again["saved"]
    assert "40 lb over" in first["html"]
    assert "$" not in first["html"]
    written = Charge.objects.get(step=2)
    assert written.lot == lot
    assert written.weighed_at == datetime(2026, 3, 2, 14, 5, 6, 789000, tzinfo=UTC)


def test_a_refusal_reaches_the_queue_as_a_sentence(batch, lots, plant, plant_worker):
    sent = {"key": new_key(), "step": 3, "mass_lb": "5", "person": plant_worker.pk}
    answer = plant.post(url(batch), sent, headers={"Accept": "application/json"})
    assert answer.status_code == 409
    assert answer.json() == {
        "saved": False,
        "message": answer.json()["message"],
    }
    assert "comes before" in answer.json()["message"]
    bad = plant.post(
        url(batch), {"key": new_key(), "step": 1, "mass_lb": "much"},
        headers={"Accept": "application/json"},
    )  # fmt: skip
    assert bad.status_code == 400


def test_the_first_to_expire_is_offered_first_and_held_lots_never(batch, lots, plant, plant_worker):
    charge_first(batch, plant)
    code = batch_steps(batch)[1].code
    soon, held = received(code, plant_worker), received(code, plant_worker)
    StockLot.objects.filter(pk=soon.pk).update(expires_on="2099-01-01")
    hold_lot(lot=held, why="x", acting_user=plant_worker)
    html = plant.get(url(batch)).content.decode()
    codes = re.findall(r'name="chosen_lot" value="([^"]+)"', html)
    assert codes == [soon.code, lots[code].code]


def test_correction_shows_costs_to_those_who_see_them_and_none_to_the_plant(
    batch, lots, plant, signed_in, formulator
):
    step = batch_steps(batch)[0]
    form = {"key": new_key(), "step": 1, "mass_lb": str(step.target_lb + 100)}
    assert plant.post(url(batch), form | {"confirmed": "over_target"}).status_code == 302
    html = plant.get(url(batch)).content.decode()
    assert "Accept this correction" in html
    assert "so it fits" in html
    assert "$" not in html
    assert "Stocks added cost $" in signed_in(formulator).get(url(batch)).content.decode()
    seen = re.search(r'name="seen" value="([^"]+)"', html)[1]
    answer = plant.post(url(batch, "correct"), {"key": new_key(), "seen": seen})
    assert answer.status_code == 302
    html = plant.get(url(batch)).content.decode()
    changed = [step for step in batch_steps(batch) if step.changes]
    assert changed
    for step in changed:
        assert f"<s>{written_pounds(step.planned_lb)}</s> {step.changes[-1].who}" in html


def test_a_charge_is_reversed_from_the_screen(batch, lots, plant):
    charge_first(batch, plant)
    charge = Charge.objects.get()
    form = {"key": new_key(), "charge": charge.pk, "why": "typed for another batch"}
    assert plant.post(url(batch, "reverse-charge"), form).status_code == 302
    assert ReversedCharge.objects.get().charge == charge


def test_rep_and_office_may_look_and_find_nothing_to_press(batch, lots, signed_in, rep, plant):
    charge_first(batch, plant)
    html = signed_in(rep).get(url(batch)).content.decode()
    assert "Weighings" in html
    assert "Save this weight" not in html
    assert "Take this charge back" not in html
    assert signed_in(rep).post(url(batch), {}).status_code in (400, 403)


def test_a_reading_outside_its_window_holds_the_batch_on_the_page(
    batch, plant, plant_worker, signed_in, formulator
):
    charged_and_made(batch, plant_worker)
    form = {
        "key": new_key(), "density_lb_per_gal": "9.1", "temperature_f": "68",
        "ph": "7.1", "appearance": "clear",
    }  # fmt: skip
    page = plant.post(url(batch, "quality"), form, follow=True).content.decode()
    assert "is held; a formulator decides" in page
    assert "Release this batch" not in page
    their_page = signed_in(formulator).get(url(batch, "quality")).content.decode()
    assert "Release with this reason" in their_page
    judged = {"why": "Read with a wet hydrometer.", "reading_is_wrong": "yes"}
    signed_in(formulator).post(url(batch, "release"), judged)
    batch.refresh_from_db()
    assert batch.status == Batch.Status.RELEASED


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"density_lb_per_gal": "heavy"}, "Enter a number"),
        ({"temperature_f": "200"}, "30 to 100"),
        ({"lab_figures": "N much"}, "is not a content and a figure"),
        ({"lab_figures": "Xx 3", "lab_source": "Lab"}, "Xx is not one of"),
        ({"lab_figures": "N 24"}, "Name the laboratory"),
    ],
)
def test_a_wrong_reading_comes_back_with_its_field_named(batch, plant, plant_worker, changed, word):
    charged_and_made(batch, plant_worker)
    form = {
        "key": new_key(), "density_lb_per_gal": "10.6", "temperature_f": "68",
        "ph": "7.1", "appearance": "clear",
    }  # fmt: skip
    answer = plant.post(url(batch, "quality"), {**form, **changed})
    assert answer.status_code == 400
    assert word in answer.content.decode()
    assert not QualityReading.objects.exists()


def test_from_reading_to_closed_batch_by_the_pages(batch, plant, plant_worker):
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    assert "All is in" in plant.get(url(batch)).content.decode()
    mark_made(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    assert "Release this batch" in plant.get(url(batch, "quality")).content.decode()
    release_batch(batch=batch, acting_user=plant_worker)
    part = batch.parts.get().pk
    filled = {"key": new_key(), "part": part, "count": "2", "net_lb": "2780"}
    page = plant.post(url(batch, "packages"), filled, follow=True).content.decode()
    assert f"{batch.number}-02" in page
    assert PackageSerial.objects.count() == 2
    assert "Write down a rinse" not in page
    page = plant.post(
        url(batch, "close"),
        {"key": new_key(), "why": "left in the hose", "heel_lb": "20"},
        follow=True,
    ).content.decode()
    assert "left in the hose" in page
    assert "20 lb left in the tank as its heel" in page
    assert "Fill packages" not in page
    rinse = {"key": new_key(), "water_lb": "300", "residue_lb": "20", "is_kept": "kept"}
    page = plant.post(url(batch, "rinse"), rinse, follow=True).content.decode()
    assert "held until it is assayed" in page


def test_a_density_is_adopted_from_the_page(batch, plant_worker, signed_in, formulator):
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    page = signed_in(formulator).post(url(batch, "density"), {"key": new_key()}, follow=True)
    assert "Adopted: later plans" in page.content.decode()


@pytest.mark.parametrize("why", ["", "x" * 201])
def test_a_refused_reversal_comes_back_with_what_was_typed_beside_its_charge(
    batch, lots, plant, why
):
    charge_first(batch, plant)
    charge = Charge.objects.get()
    form = {"key": new_key(), "charge": charge.pk, "why": why}
    answer = plant.post(url(batch, "reverse-charge"), form)
    html = answer.content.decode()
    assert answer.status_code == 400
    field = re.search(rf'<input[^>]*id="back-{charge.pk}"[^>]*>.*?</div>', html, re.DOTALL)[0]
    assert f'value="{why}"' in field
    assert "invalid-feedback" in field
    assert "<details open><summary>Correct this entry" in html
    assert not ReversedCharge.objects.exists()


def test_a_correction_that_has_changed_says_so_beside_the_correction(batch, lots, plant):
    step = batch_steps(batch)[0]
    form = {"key": new_key(), "step": 1, "mass_lb": str(step.target_lb + 100)}
    plant.post(url(batch), form | {"confirmed": "over_target"})
    answer = plant.post(url(batch, "correct"), {"key": new_key(), "seen": "0" * 16})
    assert answer.status_code == 409
    section = (
        answer.content.decode().split('aria-labelledby="correction"')[1].split("</section>")[0]
    )
    assert "The tank has changed meanwhile" in section
    assert "Accept this correction" in section


def test_a_batch_that_is_not_complete_says_so_on_the_screen(batch, lots, plant):
    charge_first(batch, plant)
    answer = plant.post(url(batch, "made"))
    assert answer.status_code == 409
    assert "is not charged yet" in answer.content.decode()
    assert "Save this weight" in answer.content.decode()


@pytest.mark.parametrize("why", ["", "x" * 401])
def test_a_refused_cancellation_comes_back_with_its_reason_field(batch, plant, why):
    answer = plant.post(url(batch, "cancel"), {"why": why})
    html = answer.content.decode()
    assert answer.status_code == 400
    assert f'value="{why}"' in html or not why
    assert 'id="id_why_error"' in html
    batch.refresh_from_db()
    assert batch.status == Batch.Status.PLANNED
