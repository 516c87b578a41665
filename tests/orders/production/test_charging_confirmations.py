"""Slips are asked about before they are written down, and nobody's weight becomes another's."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from blendshop.errors import NotAllowed
from blendshop.roles import Role
from orders.inventory.actions.lot_quality import hold_lot
from orders.models import Charge, StockMovement, Tank
from orders.production.actions.charging import charge_lot
from orders.production.charging_page import charging_page
from orders.production.confirmations import Unconfirmed
from orders.production.steps import batch_steps
from tests.factories import BaseStockFactory, UserFactory, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import new_key


@pytest.fixture
def colleague(db):
    return UserFactory(email="kim@plant.example", name="Kim Colleague", role=Role.PLANT)


@pytest.fixture(autouse=True)
def water_284(batch):
    """The first weighing is of 284 lb, which the figures of these tests go by."""
    first, *others = batch.load_plan.steps
    assert first.is_water
    freeze_otherwise(batch, steps=(replace(first, weight_lb=284.0), *others))


@pytest.fixture
def charge(batch, lots, plant_worker):
    """``charge(2)`` saves the target of step 2 by the plant worker, or what is given instead."""

    def charge(number, mass=None, *, by=None, key=None, **more):
        step = batch_steps(batch)[number - 1]
        return charge_lot(
            batch=batch,
            step=number,
            lot=lots.get(step.code),
            mass_lb=step.target_lb if mass is None else mass,
            key=key or new_key(),
            acting_user=by or plant_worker,
            **more,
        )

    return charge


def questions(refused):
    return [each.question for each in refused.value.asked]


def test_a_tenfold_slip_is_written_down_only_when_it_is_meant(batch, charge):
    charge(1)
    target = batch_steps(batch)[1].target_lb
    with pytest.raises(Unconfirmed, match="above the target") as refused:
        charge(2, 10 * target)
    assert "over_target" in questions(refused)
    assert Charge.objects.count() == 1
    assert not StockMovement.objects.filter(kind="used").exists()
    charge(2, 10 * target, confirmed=["over_target", "over_tank"])
    assert Charge.objects.get(step=2).mass_lb == 10 * target


def test_ten_percent_is_of_the_step_s_total(batch, charge):
    charge(1)
    target = batch_steps(batch)[1].target_lb
    charge(2)
    charge(2, target * Decimal("0.1"))
    with pytest.raises(Unconfirmed):
        charge(2, Decimal("0.001"))


def test_more_than_the_tank_holds_is_asked_about_by_the_lots_own_densities(batch, charge):
    Tank.objects.update(capacity_gal=100)
    batch.refresh_from_db()
    charge(1)  # 284 lb of water, 34 gal
    with pytest.raises(Unconfirmed, match="which holds 100 gal") as refused:
        charge(2)
    assert questions(refused) == ["over_tank"]
    with pytest.raises(Unconfirmed):
        charge(2, confirmed=["over_target"])  # a yes to another question is none to this
    charge(2, confirmed=["over_tank"])


def test_a_second_tablet_is_told_what_is_in_already(batch, charge):
    charge(1, 148, seen_lb=Decimal(0))
    with pytest.raises(Unconfirmed, match="148 lb of water is in already") as refused:
        charge(1, 120, seen_lb=Decimal(0))
    assert refused.value.charged_lb == 148
    assert Charge.objects.count() == 1
    charge(1, 120, seen_lb=refused.value.charged_lb)
    assert batch_steps(batch)[0].charged_lb == 268


def test_a_third_weight_between_question_and_yes_is_asked_about_again(charge):
    charge(1, 100, seen_lb=Decimal(0))
    with pytest.raises(Unconfirmed) as first:
        charge(1, 90, seen_lb=Decimal(0))
    charge(1, 80, seen_lb=Decimal(100))
    with pytest.raises(Unconfirmed, match="180 lb"):
        charge(1, 90, seen_lb=first.value.charged_lb)


def test_what_the_server_has_already_is_no_other_weight(charge):
    key = new_key()
    first = charge(1, 148, key=key, seen_lb=Decimal(0))
    assert charge(1, 148, key=key, seen_lb=Decimal(0)) == first


def test_a_weight_is_never_sent_as_another_person_s(charge, plant_worker, colleague):
    with pytest.raises(NotAllowed, match="typed by Pat Plant"):
        charge(1, by=colleague, typed_by=plant_worker.pk)
    assert not Charge.objects.exists()
    charge(1, typed_by=plant_worker.pk)
    assert Charge.objects.get().by == plant_worker


# ---------------------------------------------------------------------------------- pages
JSON = {"Accept": "application/json"}


def url(batch):
    return f"/batches/{batch.number}/charge/"


def test_the_queue_learns_which_questions_are_open_and_about_how_much(
    batch, charge, signed_in, plant_worker
):
    charge(1, 148)
    sent = {"key": new_key(), "step": 1, "mass_lb": "2480", "person": plant_worker.pk}
    sent["charged_lb"] = "0"
    client = signed_in(plant_worker)
    answer = client.post(url(batch), sent, headers=JSON)
    assert answer.status_code == 409
    assert answer.json()["confirm"] == ["another", "over_target"]
    assert answer.json()["charged_lb"] == "148.000"
    sent |= {"charged_lb": "148.000", "confirmed": ["over_target"]}
    assert client.post(url(batch), sent, headers=JSON).json()["saved"]


@pytest.mark.parametrize("person", ["nobody", "colleague"])
def test_the_queue_s_weight_says_who_typed_it_and_waits_for_that_person(
    batch, lots, signed_in, plant_worker, colleague, person
):
    sent = {"key": new_key(), "step": 1, "mass_lb": "284", "charged_lb": "0"}
    if person == "colleague":
        sent["person"] = plant_worker.pk
    answer = signed_in(colleague).post(url(batch), sent, headers=JSON)
    assert answer.status_code in (400, 403)
    assert answer.json()["message"]
    assert not Charge.objects.exists()


def test_the_plain_form_asks_with_a_box_to_tick(batch, lots, signed_in, plant_worker):
    client = signed_in(plant_worker)
    form = {"key": new_key(), "step": 1, "mass_lb": "2840", "person": plant_worker.pk}
    form["charged_lb"] = "0.000"
    answer = client.post(url(batch), form)
    html = " ".join(answer.content.decode().split())
    assert answer.status_code == 409
    assert 'name="confirmed" value="over_target"' in html
    assert 'value="2840"' in html
    assert re.search(r'id="charge-said" tabindex="-1" autofocus', html)
    assert len(re.findall("autofocus", html)) == 1
    assert client.post(url(batch), form | {"confirmed": ["over_target"]}).status_code == 302


def test_the_plain_form_s_second_tablet_ticks_what_is_in(batch, charge, signed_in, plant_worker):
    client = signed_in(plant_worker)
    charge(1, 148)
    form = {"key": new_key(), "step": 1, "mass_lb": "130", "person": plant_worker.pk}
    form["charged_lb"] = "0"
    html = " ".join(client.post(url(batch), form).content.decode().split())
    ticked = re.search(r'type="checkbox" name="charged_lb" value="([\d.]+)"', html)[1]
    assert re.search(r'type="hidden" name="charged_lb"[^>]*value="0"', html)
    assert client.post(url(batch), form).status_code == 409  # sent again without the tick
    answer = client.post(url(batch), form | {"charged_lb": ["0", ticked]})
    assert answer.status_code == 302
    assert batch_steps(batch)[0].charged_lb == 278


def test_any_refusal_stays_on_its_step_with_the_reason_in_focus(
    batch, lots, signed_in, plant_worker
):
    form = {"key": new_key(), "step": 3, "mass_lb": "5", "charged_lb": "0"}
    html = signed_in(plant_worker).post(url(batch), form).content.decode()
    assert "comes before" in re.search(r'id="charge-said".*?</div>', html)[0]
    assert '<span id="charge-number">3</span>' in html


def test_the_tablet_knows_every_lot_on_hand_by_its_stock(batch, lots, plant_worker):
    hold_lot(lot=lots["KAC"], why="cloudy", acting_user=plant_worker)
    state = charging_page(batch, plant_worker, today())["screen"]
    known = {lot["code"]: lot for lot in state["lots_on_hand"]}
    assert known.keys() == {lot.code for lot in lots.values()}
    for code, lot in lots.items():
        assert (known[lot.code]["stock"], known[lot.code]["name"]) == (code, lot.stock.name)
    assert known[lots["KAC"].code]["why_not"] == "is held: cloudy"
    assert known[lots["UAN"].code]["why_not"] == ""
    assert state["person"] == {"id": plant_worker.pk, "name": "Pat Plant"}


def test_of_lots_of_other_stocks_the_tablet_knows_the_codes_in_as_many_queries(
    batch, lots, plant_worker
):
    def state():
        charging_page(batch, plant_worker, today())  # what a process keeps is read
        with CaptureQueriesContext(connection) as captured:
            found = charging_page(batch, plant_worker, today())["screen"]
        return found, len(captured)

    before, few = state()
    other = BaseStockFactory(code="OTHER", name="Another liquid")
    strange = [make_lot(other, plant_worker, 100).code for _ in range(3)]
    more = [make_lot(lots["UAN"].stock, plant_worker, 100) for _ in range(3)]
    after, many = state()
    assert before["other_lots"] == []
    found = [{"stock": "OTHER", "name": "Another liquid", "codes": strange}]
    assert after["other_lots"] == found
    assert len(after["lots_on_hand"]) == len(before["lots_on_hand"]) + len(more)
    assert many == few
