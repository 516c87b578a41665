"""A maximum stands in the way of release as a guarantee does, on every page and on the record."""

from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from blendshop.errors import NotAllowed
from formulas.engine.work.effort import TooLarge
from orders.models import Tank
from orders.papers.batch_record_pdf import render_batch_record
from orders.papers.gather_batch_record import batch_record_view
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import mark_made, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.as_made import as_made
from orders.production.corrections import proposal
from orders.production.release_checks import release_hindrances
from orders.production.steps import batch_steps
from tests.orders.labels.label_cases import text_of
from tests.orders.ordering.test_board_pages import body
from tests.orders.planning.plant_cases import (
    WISH,
    freeze_otherwise,
    placed_order,
    save_half_slow,
)
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    lots_of,
    new_key,
    read_density,
    received,
)

#: So dilute that water can be left out: potash from 3 to 3.4 %, at most 60 % of the N slow.
BOUNDED = {
    **WISH,
    "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "K2O", "min": 3, "max": 3.4}],
    "slow_release_pct": {"min": 50, "max": 60},
}


@pytest.fixture
def bounded(shop, rep, company, plant_worker):
    revision = save_half_slow(rep, company, wish=BOUNDED)
    order = placed_order(rep, company, quantity=2, revision=revision)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    return batch


def too_much_potash(batch, by):
    """Potassium acetate in the place of water: every guarantee still holds."""
    charged_and_made(batch, by, off_lb={"KAC": 150, "WATER": -150})


def test_what_is_charged_to_the_pound_keeps_its_maxima(bounded, plant_worker):
    charged_and_made(bounded, plant_worker)
    read_density(bounded, plant_worker)
    made = as_made(bounded, batch_steps(bounded))
    assert [(check.key, check.verdict) for check in made.maxima] == [
        ("K2O", "meets"),
        ("slow_release", "meets"),
    ]
    assert release_hindrances(bounded) == []


def test_a_maximum_exceeded_is_the_formulators_to_release(bounded, plant_worker, formulator):
    too_much_potash(bounded, plant_worker)
    read_density(bounded, plant_worker)
    told = " ".join(release_hindrances(bounded))
    assert "at most 3.4 %: above its maximum." in told
    assert "guaranteed" not in told
    with pytest.raises(NotAllowed, match="above its maximum"):
        release_batch(batch=bounded, acting_user=plant_worker, why="A little more.")
    release_batch(batch=bounded, acting_user=formulator, why="The customer takes it.")
    assert "above its maximum" in bounded.events.last().data["hindrances"][0]


def test_nothing_at_all_of_something_is_a_maximum_too(batch, lots, plant_worker):
    """A law that forbids phosphate asks for at most 0 %."""
    promised = replace(batch.load_plan.promised, maxima_pct={"P2O5": 0.0})
    freeze_otherwise(batch, promised=promised)
    traced = received("KAC", plant_worker, figures={"K2O": 24.0, "P2O5": 0.2})
    charge_all(batch, {**lots, "KAC": traced}, plant_worker)
    (check,) = as_made(batch, batch_steps(batch)).maxima
    assert (check.key, check.verdict) == ("P2O5", "above")
    mark_made(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    assert "at most 0 %: above its maximum" in release_hindrances(batch)[0]


def test_a_laboratory_that_finds_more_than_the_maximum_holds_the_batch(bounded, plant_worker):
    charged_and_made(bounded, plant_worker)
    lab = {"lab_analysis": {"K2O": 3.6}, "lab_source": "Lab report 7"}
    reading = read_density(bounded, plant_worker, **lab)
    assert "3.6 %, at most 3.4 %: above its maximum" in reading.findings[0]
    assert bounded.status == "held"


def test_the_pages_and_the_batch_record_say_it(bounded, plant_worker, signed_in):
    too_much_potash(bounded, plant_worker)
    made_pct = as_made(bounded, batch_steps(bounded)).maxima[0].made_pct
    client = signed_in(plant_worker)
    for route in ("batch_detail", "batch_quality", "batch_charge"):
        html = client.get(reverse(route, args=[bounded.number])).content.decode()
        rows = html.split("At most, %")[1].split("</table>")[0]
        assert "3.40" in rows, route
        assert f"{made_pct:.2f}" in rows, route
        assert rows.count("above its maximum") == 1, route
        assert rows.count("keeps its maximum") == 1, route
    view = batch_record_view(bounded)
    assert [(row.most_pct, row.words) for row in view.maxima] == [
        (3.4, "above its maximum"),
        (60, "keeps its maximum"),
    ]
    printed = text_of(render_batch_record(view))
    assert "As made, against the maxima" in printed
    assert "above its maximum" in printed


def test_a_batch_without_maxima_shows_no_table_of_them(batch, plant_worker, signed_in):
    charged_and_made(batch, plant_worker)
    html = body(signed_in(plant_worker).get(reverse("batch_quality", args=[batch.number])))
    assert "At least, %" in html
    assert "At most, %" not in html
    assert "maxima" not in text_of(render_batch_record(batch_record_view(batch)))


def test_a_maximum_about_to_be_exceeded_is_offered_a_correction(bounded, formulator):
    lots = lots_of(bounded, formulator)
    step = next(step for step in batch_steps(bounded) if step.code == "KAC")
    charge_lot(
        batch=bounded,
        step=step.number,
        lot=lots["KAC"],
        mass_lb=step.target_lb + 120,
        confirmed=["over_target"],
        key=new_key(),
        acting_user=formulator,
    )
    offered = proposal(bounded, batch_steps(bounded), timezone.localdate())
    assert offered is not None
    assert offered.helps
    assert offered.outside == ()


def test_a_correction_beyond_its_work_is_said_and_the_screen_stays(
    bounded, formulator, signed_in, monkeypatch
):
    def too_large(*_, **__):
        raise TooLarge("The question is too large to be decided.")

    lots = lots_of(bounded, formulator)
    step = next(step for step in batch_steps(bounded) if step.code == "KAC")
    charge_lot(
        batch=bounded,
        step=step.number,
        lot=lots["KAC"],
        mass_lb=step.target_lb + 120,
        confirmed=["over_target"],
        key=new_key(),
        acting_user=formulator,
    )
    monkeypatch.setattr("orders.production.corrections.engine.correct", too_large)
    monkeypatch.setattr("orders.production.corrections.new_targets", lambda *_: None)
    found = proposal(bounded, batch_steps(bounded), timezone.localdate())
    assert found is not None
    assert not found.helps
    assert "more work to find out" in found.sentence
    page = signed_in(formulator).get(reverse("batch_charge", args=[bounded.number]))
    assert page.status_code == 200
