"""A label says what is in the tank: the plan's figures while they are true, else the weights'."""

from decimal import Decimal

import pytest

from formulas.engine.label.metals import METALS
from orders.labels.actions import change_label, issue_label_draft
from orders.labels.batch_contents import charged_contents, planned_contents
from orders.labels.batch_label import batch_label, printed_lines
from orders.labels.view import label_draft_view
from orders.models import LabelChange
from orders.production.actions.batches import mark_made
from orders.production.actions.charging import charge_lot
from orders.production.as_made import as_made
from orders.production.made_record import made_record
from orders.production.steps import batch_steps
from tests.orders.production.charging_cases import (
    lots_of,
    new_key,
    read_density,
    received,
)


def lines(part):
    return {key: pct for key, (_, pct) in printed_lines(batch_label(part).draft).items()}


def notes(part):
    return " ".join(label_draft_view(part).review_notes)


def test_before_it_is_charged_a_label_follows_the_plan(batch):
    part = batch.parts.get()
    assert not batch_label(part).contents.is_charged
    assert "Figures follow the plan" in notes(part)


def test_a_half_charged_load_still_has_the_label_of_its_plan(batch, plant_worker):
    before = lines(batch.parts.get())
    step = batch_steps(batch)[0]
    charge_lot(
        batch=batch, step=1, lot=lots_of(batch, plant_worker).get(step.code),
        mass_lb=step.target_lb, key=new_key(), acting_user=plant_worker,
    )  # fmt: skip
    batch.refresh_from_db()
    assert charged_contents(made_record(batch)) is None
    assert lines(batch.parts.get()) == before


def test_a_load_charged_as_planned_keeps_the_printed_label(batch, charged):
    before = lines(batch.parts.get())
    part = charged()
    assert lines(part) == before
    assert "holds every figure of the plan" in notes(part)


def test_richer_lots_promise_no_more_than_was_sold(batch, charged, plant_worker):
    before = lines(batch.parts.get())
    rich = received("TRZ", plant_worker, figures={"N.urea": 8.0, "N.slow": 21.5})
    assert lines(charged(TRZ=rich)) == before


def test_a_weak_lot_lowers_every_line_to_what_was_charged(batch, charged, plant_worker):
    before = lines(batch.parts.get())
    weak = received("TRZ", plant_worker, figures={"N.urea": 7.0, "N.slow": 19.0})
    part = charged(TRZ=weak)
    made = as_made(batch, batch_steps(batch)).analysis
    now = lines(part)
    assert now["N"] < before["N"]
    for key, pct in now.items():
        held = made["N.slow"] if key == "slow_release" else made[key]
        assert float(pct) <= held + 1e-9
    # A tenth down, and the forms it adds up from a hundredth each.
    assert float(now["N"]) == pytest.approx(made["N"], abs=0.1 + 0.01 * 4)
    assert "holds less than planned" in notes(part)


def test_net_weight_follows_the_density_that_was_read(batch, charged, plant_worker):
    part = charged()
    low_lb_per_gal = batch.load_plan.density_window.low_lb_per_gal
    read_density(batch, plant_worker, density_lb_per_gal=low_lb_per_gal)
    view = label_draft_view(part)
    assert view.density_lb_per_gal == pytest.approx(low_lb_per_gal, abs=1e-6)
    assert view.net_mass_lb == pytest.approx(view.net_volume_gal * low_lb_per_gal, rel=1e-3)


def test_two_lots_of_a_stock_count_by_their_weight(batch, plant_worker):
    lots = lots_of(batch, plant_worker)
    step = next(step for step in batch_steps(batch) if step.code == "KAC")
    first = received("KAC", plant_worker, figures={"K2O": 20.0}, metals={"Pb": 4.0})
    second = received("KAC", plant_worker, figures={"K2O": 30.0}, metals={"Pb": 1.0})
    for each in batch_steps(batch):
        halves = [(first, step.target_lb / 4), (second, step.target_lb * 3 / 4)]
        charges = halves if each.code == "KAC" else [(lots.get(each.code), each.target_lb)]
        for lot, mass in charges:
            charge_lot(
                batch=batch, step=each.number, lot=lot, mass_lb=Decimal(mass), key=new_key(),
                acting_user=plant_worker,
            )  # fmt: skip
    batch.refresh_from_db()
    mark_made(batch=batch, acting_user=plant_worker)
    batch.refresh_from_db()
    kac = next(each for each in charged_contents(made_record(batch)).stocks if each.code == "KAC")
    # By hand: (20 · 1 + 30 · 3) / 4 = 27.5 % and (4 · 1 + 1 · 3) / 4 = 1.75 ppm.
    assert kac.analysis["K2O"] == pytest.approx(27.5)
    assert kac.ppm == {"Pb": pytest.approx(1.75)}
    shares = {each.code: each.pct for each in planned_contents(batch).stocks}
    assert kac.pct == pytest.approx(shares["KAC"], abs=0.01)


def test_metals_of_the_lots_certificates_are_assessed_and_named(batch, charged, plant_worker):
    zero = dict.fromkeys(METALS, 0.5)
    lots = {
        step.code: received(step.code, plant_worker, metals=zero) for step in batch_steps(batch)
    }
    assert {check.found for _, check in batch_label(batch.parts.get()).metals} == {None}
    part = charged(**lots)
    found = [check.found for _, check in batch_label(part).metals]
    assert found == [pytest.approx(0.5)] * len(found)
    assert f"Metals of lot {lots['KAC']}" in notes(part)


def test_a_change_by_hand_that_the_weights_overtook_is_void_and_said_so(
    batch, charged, formulator, plant_worker
):
    part = batch.parts.get()
    change_label(
        part=part, acting_user=formulator, key="K2O", action=LabelChange.Action.LOWER,
        pct=Decimal("2.9"), why="margin",
    )  # fmt: skip
    assert lines(part)["K2O"] == Decimal("2.9")
    weak = received("KAC", plant_worker, figures={"K2O": 15.0})
    part = charged(KAC=weak)
    assert lines(part)["K2O"] < Decimal("2.9")
    assert "lowers nothing any more" in notes(part)


def test_the_paper_is_issued_anew_when_the_weights_change_it(batch, charged, plant_worker):
    first = issue_label_draft(part=batch.parts.get(), acting_user=plant_worker)
    weak = received("TRZ", plant_worker, figures={"N.urea": 7.0, "N.slow": 19.0})
    second = issue_label_draft(part=charged(TRZ=weak), acting_user=plant_worker)
    assert second.replaces == first
    assert second.snapshot["grade"] != first.snapshot["grade"]
