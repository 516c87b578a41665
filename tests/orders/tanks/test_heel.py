"""The heel goes into the next batch exactly once: analysis, balance, label, correction, tons.

By hand: what two liquids make is the weighted mean of their contents (mass balance), and a heel
of ``h`` in a load of ``m`` pounds is thinned to ``(h / m) ** n`` by ``n`` loads, the serial
dilution of every chemistry textbook.
"""

from dataclasses import replace
from decimal import Decimal

import pytest

from formulas.engine.plant.load import Heel
from orders.frozen.tank_contents import STATED_CODE, HeldBatch
from orders.labels.batch_contents import charged_contents
from orders.models import Batch, BatchClosing
from orders.papers.actions import issue_batch_record
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import close_batch, fill_packages
from orders.production.as_made import as_made, when_finished
from orders.production.corrections import proposal
from orders.production.made_record import made_record
from orders.production.steps import batch_steps
from orders.tanks.actions.looking import Found
from orders.tanks.contents import next_change
from orders.tanks.heel import EmptyTank, heel_of
from orders.tanks.mixing import Portion, mixed
from tests.factories import today
from tests.orders.production.charging_cases import (
    charge_all,
    charged_and_made,
    drained,
    lots_of,
    made_by_ticket,
    new_key,
    read_density,
)
from tests.orders.tanks.tank_cases import make_and_fill, sign

WATER_LIKE = {
    "product": "weak leftover",
    "volume_gal": 200.0,
    "density_lb_per_gal": 9.0,
    "analysis": {"N.urea": 6.0},
}


def charged(batch):
    return float(sum(charge.mass_lb for charge in batch.charges.all()))


def test_an_empty_tank_gives_nothing(load, tank):
    found = heel_of(tank)
    assert isinstance(found, EmptyTank)
    assert found.words == "Tank 1 is empty and rinsed."


def test_what_a_drained_tank_keeps_is_one_percent_of_its_capacity(load, tank, plant_worker):
    batch = load()
    charged_and_made(batch, plant_worker)
    expected = heel_of(tank)
    drained(tank, plant_worker)
    found = heel_of(tank)
    assert (expected.is_expected, found.is_expected) == (True, False)
    assert expected.heel == found.heel
    made = as_made(batch, batch_steps(batch))
    assert isinstance(found.heel, Heel)
    assert found.heel.volume_gal == pytest.approx(12.0)  # 1 % of 1,200 gal
    assert found.heel.mass_lb == pytest.approx(12.0 * made.mass_lb / made.volume_gal)
    for key, pct in found.heel.analysis.items():
        assert pct == pytest.approx(made.analysis[key]), key
    assert "common practice, no source" in found.words
    assert sum(stock.pct for stock in found.stocks) == pytest.approx(100.0)
    assert any(stock.traits for stock in found.stocks)
    assert found.batch_numbers == (batch.number,)


def test_a_batch_is_what_was_charged_and_its_heel_by_weight(load, tank, plant_worker):
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)  # 1,800 lb with 6 % N
    batch = load()
    forecast = when_finished(batch, batch_steps(batch))
    charged_and_made(batch, plant_worker)
    made = as_made(batch, batch_steps(batch))
    own_lb = charged(batch)
    urea_lb = sum(
        step.figures.analysis.get("N.urea", 0.0) / 100 * float(step.charged_lb)
        for step in batch_steps(batch)
    )
    assert made.mass_lb == pytest.approx(own_lb + 1800.0)
    assert made.analysis["N.urea"] == pytest.approx(100 * (urea_lb + 0.06 * 1800) / (own_lb + 1800))
    own_gal = sum(
        float(step.charged_lb) / step.figures.density_lb_per_gal for step in batch_steps(batch)
    )
    assert made.volume_gal == pytest.approx(own_gal + 200.0)
    assert forecast.mass_lb == pytest.approx(made.mass_lb)
    assert forecast.analysis == pytest.approx(made.analysis)
    held = tank.ledger.last().held
    assert held.mass_lb == pytest.approx(made.mass_lb)
    assert held.analysis["N.urea"] == pytest.approx(made.analysis["N.urea"])


def test_ledger_and_scale_count_gallons_as_the_plan_does(load, tank, plant_worker):
    """Also of a product whose measured density is 1 % above the modelled one, beside a heel.

    By hand: the charged gallons of the plan, thinned by 1 %, and the 200 of the heel as they are.
    """
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)
    batch = load()
    plan = batch.load_plan
    assert plan.heel is None  # too much to be planned beside: the plan asks for a flush
    heavier = replace(plan, density_correction=1.01)
    Batch.objects.filter(pk=batch.pk).update(plan=heavier.to_json())
    batch = Batch.objects.get(pk=batch.pk)
    charged_and_made(batch, plant_worker)
    made, held = as_made(batch, batch_steps(batch)), tank.ledger.last().held
    assert made.volume_gal == pytest.approx(200.0 + plan.volume_gal / 1.01, abs=0.01)
    assert held.volume_gal == pytest.approx(made.volume_gal)
    assert held.density_lb_per_gal == pytest.approx(made.density_lb_per_gal)


def test_the_ledger_mixes_by_what_is_dissolved(load):
    """UAN 32 cut to 28 is 10.67 lb/gal: Virginia Cooperative Extension SPES-199."""
    batch = load()
    water = batch.load_plan.steps[0]
    uan = replace(
        water, density_lb_per_gal=11.06, traits=(), solutes={"urea": 34.3, "NH4NO3": 45.7}
    )
    water = replace(water, density_lb_per_gal=8.337, traits=("water",), solutes={})
    held = mixed(batch, [Portion(uan, 875.0), Portion(water, 125.0)], None, "as charged")
    assert held.density_lb_per_gal == pytest.approx(10.67, rel=0.003)
    ideal_lb_per_gal = 1000 / (875 / 11.06 + 125 / 8.337)
    assert held.density_lb_per_gal > 1.001 * ideal_lb_per_gal


def test_nothing_is_made_of_a_heel_alone(load, tank, plant_worker):
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)
    batch = load()
    assert as_made(batch, batch_steps(batch)) is None


def test_a_heel_that_thins_the_batch_is_made_up_for(load, tank, plant_worker):
    """270 lb of a weak heel miss the guarantee; the correction counts the heel once."""
    sign(tank, plant_worker, Found.OTHER, **(WATER_LIKE | {"volume_gal": 30.0}))
    batch = load()
    charge_all(batch, lots_of(batch, plant_worker), plant_worker)
    found = proposal(batch, batch_steps(batch), today())
    added_lb = float(sum(each.mass_lb for each in found.additions))
    assert added_lb > 0
    assert found.mass_lb == pytest.approx(charged(batch) + 270.0 + added_lb)


def test_heels_of_heels_are_thinned_as_a_serial_dilution_and_no_pound_is_lost(
    load, tank, plant_worker
):
    batches = [load() for _ in range(3)]
    for batch in batches:
        make_and_fill(batch, plant_worker, heel_lb=100)
    first, second, third = batches
    loads_lb = [charged(batch) for batch in batches]
    held = tank.ledger.last().held
    assert [each.number for each in held.batches] == [third.number, second.number, first.number]
    assert sum(each.lb for each in held.batches) == pytest.approx(100.0)
    own = [loads_lb[0], loads_lb[1] + 100, loads_lb[2] + 100]
    of_first_lb = 100 * (100 / own[1]) * (100 / own[2])
    assert held.batches[-1].lb == pytest.approx(of_first_lb)
    assert held.batches[-1].share == pytest.approx(of_first_lb / loads_lb[0])
    rows = {row.of: row for row in third.heel_came_from.all()}
    assert rows[second].mass_lb + rows[first].mass_lb == pytest.approx(100.0)
    assert rows[first].mass_lb == pytest.approx(100 * 100 / own[1])


def test_what_no_ledger_could_write_is_forgotten_and_a_dry_tank_keeps_its_stocks(
    load, tank, plant_worker
):
    charged_and_made(load(), plant_worker)
    held = tank.ledger.last().held
    traces = replace(held, batches=(*held.batches, HeldBatch("B-2020-0001", 0.5, 0.0001)))
    kept = traces.heel_of_lb(held.mass_lb / 100, "measured")
    assert [each.number for each in kept.batches] == [each.number for each in traces.batches]
    assert kept.batches[-1].lb == pytest.approx(0.005)
    thinner = traces.heel_of_lb(held.mass_lb / 2000, "measured")
    assert [each.number for each in thinner.batches] == [each.number for each in held.batches]
    dry = traces.heel_of_lb(0.0, "measured")
    assert (dry.stocks, dry.batches) == (held.stocks, ())


def test_the_books_of_two_batches_hold_every_pound_once(load, tank, plant_worker):
    """What both were charged is what both filled, and the heel that is still there."""
    first, second = load(), load()
    for batch in (first, second):
        make_and_fill(batch, plant_worker, heel_lb=90)
    closings = list(BatchClosing.objects.order_by("pk"))
    assert [each.heel_left_lb for each in closings] == [90, 90]
    assert [each.heel_in_lb for each in closings] == [0, 90]
    assert [each.loss_lb for each in closings] == [0, 0]
    charged_lb = sum(each.charged_lb for each in closings)
    assert charged_lb == sum(each.filled_lb for each in closings) + 90
    text = str(issue_batch_record(batch=second, acting_user=plant_worker).snapshot)
    assert "onto a heel of 90 lb" in text
    assert "left in the tank as its heel 90 lb" in text
    assert f"90.0 lb of Half slow summer ({first.number}), measured" in text


def test_the_heel_stands_on_the_label_as_what_it_is_made_of(load, tank, plant_worker):
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)
    batch = load()
    charged_and_made(batch, plant_worker)
    contents = charged_contents(made_record(batch))
    assert sum(each.pct for each in contents.stocks) == pytest.approx(100.0)
    heel = next(each for each in contents.stocks if each.code == STATED_CODE)
    assert heel.pct == pytest.approx(100 * 1800 / (charged(batch) + 1800))
    assert contents.analysis["N"] == pytest.approx(as_made(batch, batch_steps(batch)).analysis["N"])


def test_a_load_weighed_from_the_printed_ticket_takes_in_the_heel_too(load, tank, plant_worker):
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)
    batch = load()
    made_by_ticket(batch, plant_worker)
    held = tank.ledger.last().held
    assert held.mass_lb == pytest.approx(batch.load_plan.charged_lb + 1800)


def test_contents_nobody_can_read_the_rules_for_never_pass_without_a_word(load, tank, plant_worker):
    sign(tank, plant_worker, Found.OTHER, **WATER_LIKE)
    change = next_change(load())
    assert "jar test" in change.words
    sign(tank, plant_worker, Found.UNKNOWN, note="white, milky")
    change = next_change(load())
    assert change.needs_look
    assert "no rule asks for a flush" not in change.words


def test_a_tank_that_drained_dry_and_was_not_rinsed_is_still_wet(load, tank, plant_worker):
    charged_and_made(load(), plant_worker)
    drained(tank, plant_worker, heel_gal=0.0)
    found = heel_of(tank)
    assert found.heel.mass_lb == 0.0
    assert "12 gal" in next_change(load()).words
    later = load()
    charged_and_made(later, plant_worker)
    assert not later.heel_came_from.exists()
    assert as_made(later, batch_steps(later)).mass_lb == pytest.approx(charged(later))


def test_without_a_measure_no_more_stays_than_was_not_filled(load, tank, plant_worker):
    batch = load()
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    all_lb = Decimal(str(charged(batch)))
    part = batch.parts.get()
    fill_packages(part=part, net_lb=[all_lb], key=new_key(), acting_user=plant_worker)
    closing = close_batch(batch=batch, why="", key=new_key(), acting_user=plant_worker)
    assert (closing.heel_left_lb, closing.loss_lb) == (0, 0)
