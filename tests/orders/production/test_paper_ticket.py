"""A load weighed from the printed ticket: every weight and lot at once, or nothing."""

import re

import pytest

from blendshop.errors import ChangedMeanwhile, IllegalMove, NotAllowed
from orders.models import Batch, Charge, StockMovement
from orders.production.actions.batches import mark_made
from orders.production.actions.paper_ticket import (
    PaperTicketRefused,
    PaperWeight,
    made_from_paper,
)
from orders.production.as_made import as_made
from orders.production.steps import batch_steps
from tests.orders.production.charging_cases import new_key, received


@pytest.fixture
def weights(batch, lots):
    """Each weighing to the pound, from its lot."""
    return [
        PaperWeight(f"{step.number}_1", step.number, lots.get(step.code), step.target_lb)
        for step in batch_steps(batch)
    ]


def test_there_is_no_road_to_made_without_weights_and_lots(batch, plant_worker, signed_in):
    with pytest.raises(IllegalMove, match="Nothing is charged"):
        mark_made(batch=batch, acting_user=plant_worker)
    assert Batch.Status.MADE not in Batch.MOVES[Batch.Status.PLANNED]
    answer = signed_in(plant_worker).post(f"/batches/{batch.number}/made/")
    assert answer.status_code == 409
    batch.refresh_from_db()
    assert batch.status == "planned"


def test_a_ticket_is_every_charge_of_the_batch_and_the_batch_is_made(batch, weights, plant_worker):
    key = new_key()
    made_from_paper(batch=batch, weights=weights, key=key, acting_user=plant_worker)
    batch.refresh_from_db()
    assert batch.status == "made"
    assert [event.to_status for event in batch.events.order_by("pk")][-3:] == [
        "charging", "charging", "made",
    ]  # fmt: skip
    made = as_made(batch, batch_steps(batch))
    assert made.mass_lb == pytest.approx(batch.load_plan.mass_lb)
    for weight in weights:
        if weight.lot:
            weight.lot.refresh_from_db()
            assert weight.lot.on_hand_lb == 50_000 - weight.mass_lb
    again = made_from_paper(batch=batch, weights=weights, key=key, acting_user=plant_worker)
    assert [charge.step for charge in again] == [1, 2, 3, 4]
    assert Charge.objects.count() == 4
    with pytest.raises(ChangedMeanwhile):
        made_from_paper(batch=batch, weights=weights[:-1], key=key, acting_user=plant_worker)


def test_one_wrong_weight_leaves_nothing_written(batch, lots, weights, plant_worker):
    wrong_lot = PaperWeight("2_1", 2, lots["KAC"], weights[1].mass_lb)
    slip = PaperWeight("4_1", 4, weights[3].lot, 10 * weights[3].mass_lb)
    with pytest.raises(PaperTicketRefused) as refused:
        made_from_paper(
            batch=batch,
            weights=[weights[0], wrong_lot, weights[2], slip],
            key=new_key(),
            acting_user=plant_worker,
        )
    assert "not" in refused.value.reasons["2_1"].message
    assert refused.value.reasons.keys() == {"2_1", "4_1"}
    assert not Charge.objects.exists()
    assert not StockMovement.objects.filter(kind="used").exists()
    batch.refresh_from_db()
    assert batch.status == "planned"


def test_a_ticket_without_a_stock_is_refused(batch, weights, plant_worker):
    with pytest.raises(IllegalMove, match="not charged yet"):
        made_from_paper(batch=batch, weights=weights[:-1], key=new_key(), acting_user=plant_worker)
    assert not Charge.objects.exists()


def test_a_ticket_is_for_plant_and_formulator(batch, weights, rep):
    with pytest.raises(NotAllowed):
        made_from_paper(batch=batch, weights=weights, key=new_key(), acting_user=rep)


def test_a_batch_made_before_weights_were_asked_for_stays_readable(batch, signed_in, plant_worker):
    Batch.objects.filter(pk=batch.pk).update(status=Batch.Status.MADE)
    client = signed_in(plant_worker)
    for page in ("", "charge/", "quality/", "record.pdf"):
        assert client.get(f"/batches/{batch.number}/{page}").status_code == 200


# ----------------------------------------------------------------------------------- page
@pytest.fixture
def plant(signed_in, plant_worker):
    return signed_in(plant_worker)


def page_of(batch):
    return f"/batches/{batch.number}/paper-ticket/"


@pytest.fixture
def form(batch, weights, plant):
    html = plant.get(page_of(batch)).content.decode()
    filled = {"key": re.search(r'name="key" value="([^"]+)"', html)[1]}
    for weight in weights:
        filled[f"mass_{weight.place}"] = str(weight.mass_lb)
        filled[f"lot_{weight.place}"] = weight.lot.code if weight.lot else ""
    return filled


def test_the_page_asks_for_each_weight_and_lot_and_makes_the_batch_once(batch, form, plant):
    assert "paper ticket" in plant.get(f"/batches/{batch.number}/").content.decode()
    for _ in range(2):
        assert plant.post(page_of(batch), form).status_code == 302
    assert Charge.objects.count() == 4
    batch.refresh_from_db()
    assert batch.status == "made"
    assert plant.get(page_of(batch)).status_code == 409


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("mass_2_1", "", "Write down what was weighed"),
        ("mass_2_1", "much", "Enter a number"),
        ("lot_2_1", "", "Write down which lot it was"),
        ("lot_2_1", "L-1999-0001", "There is no lot L-1999-0001"),
        ("lot_2_2", "L-1999-0002", "There is no lot L-1999-0002"),
        ("mass_2_1", "99999", "above the target"),
    ],
)
def test_a_refused_ticket_comes_back_with_everything_typed_and_the_reason_beside_its_field(
    batch, form, plant, field, typed, words
):
    answer = plant.post(page_of(batch), form | {field: typed})
    html = answer.content.decode()
    assert answer.status_code == 400
    reason = re.search(rf'id="id_{field}_error">(.*?)</div>', html)[1]
    assert words in reason
    for name, value in (form | {field: typed}).items():
        if value:
            assert re.search(rf'name="{name}"[^>]*value="{re.escape(value)}"', html) or re.search(
                rf'value="{re.escape(value)}"[^>]*name="{name}"', html
            ), name
    assert not Charge.objects.exists()


def test_a_slip_on_the_page_is_saved_when_its_box_is_ticked(batch, form, plant):
    meant = 2 * batch_steps(batch)[1].target_lb
    form["mass_2_1"] = str(meant)
    html = " ".join(plant.post(page_of(batch), form).content.decode().split())
    assert 'type="checkbox" name="confirmed_2_1" value="over_target"' in html
    assert plant.post(page_of(batch), form | {"confirmed_2_1": "over_target"}).status_code == 302
    assert Charge.objects.get(step=2).mass_lb == meant


def test_a_second_lot_of_a_weighing_is_a_charge_of_its_own(batch, form, plant, plant_worker):
    more = received("UAN", plant_worker)
    target = batch_steps(batch)[1].target_lb
    form |= {"mass_2_1": str(target - 290), "lot_2_2": more.code, "mass_2_2": "290"}
    assert plant.post(page_of(batch), form).status_code == 302
    weighed = Charge.objects.filter(step=2).order_by("pk")
    assert [charge.mass_lb for charge in weighed] == [target - 290, 290]
    assert weighed[1].lot == more
