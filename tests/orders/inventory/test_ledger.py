"""The ledger: append-only, never negative, on-hand is the sum, the same key moves nothing twice."""

from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendshop.errors import BadInput, ChangedMeanwhile, DomainError, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from orders.inventory.actions.lots import adjust_lot, count_lot, transfer_lot, use_lot
from orders.inventory.levels import ledger_differences
from orders.models import StockLot, StockMovement
from orders.production.actions.batches import cancel_batch
from tests.factories import BaseStockFactory
from tests.orders.inventory.stock_cases import make_lot, new_key


@pytest.fixture
def lot(batch, plant_worker):
    return make_lot(BaseStockFactory(code="LEDGER"), plant_worker, 1000)


def on_hand(lot):
    return StockLot.objects.get(pk=lot.pk).on_hand_lb


def test_using_a_lot_takes_the_mass_and_names_the_batch(lot, batch, plant_worker):
    movement = use_lot(lot=lot, mass_lb=250.5, batch=batch, acting_user=plant_worker, key="a")
    assert on_hand(lot) == Decimal("749.5")
    assert (movement.kind, movement.mass_lb, movement.batch) == ("used", Decimal("-250.5"), batch)


def test_the_same_key_again_is_the_same_charge(lot, batch, plant_worker):
    charge = {"lot": lot, "mass_lb": 100, "batch": batch, "acting_user": plant_worker, "key": "k"}
    assert use_lot(**charge) == use_lot(**charge)
    assert on_hand(lot) == 900
    with pytest.raises(ChangedMeanwhile):
        use_lot(**{**charge, "mass_lb": 101})
    with pytest.raises(BadInput):
        use_lot(**{**charge, "key": " "})
    assert on_hand(lot) == 900


def test_a_lot_cannot_give_more_than_it_holds(lot, batch, plant_worker):
    use_lot(lot=lot, mass_lb=999.999, batch=batch, acting_user=plant_worker, key="a")
    with pytest.raises(BadInput, match=r"holds 0\.001 lb"):
        use_lot(lot=lot, mass_lb=0.002, batch=batch, acting_user=plant_worker, key="b")
    assert on_hand(lot) == Decimal("0.001")
    assert lot.movements.count() == 2


def test_the_database_refuses_a_negative_balance_without_any_of_our_code(lot):
    with pytest.raises(IntegrityError), transaction.atomic():
        StockLot.objects.filter(pk=lot.pk).update(on_hand_lb=Decimal("-0.001"))


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "used", "mass_lb": 5},
        {"kind": "received", "mass_lb": -5},
        {"kind": "transferred_in", "mass_lb": -5},
        {"kind": "transferred_out", "mass_lb": 5},
        {"kind": "adjusted", "mass_lb": 0, "why": "nothing"},
        {"kind": "adjusted", "mass_lb": -5, "why": ""},
        {"kind": "used", "mass_lb": -5, "batch": None},
        {"kind": "stolen", "mass_lb": -5},
    ],
)
def test_the_database_refuses_a_movement_whose_sign_or_reason_does_not_fit(lot, batch, wrong):
    row = {"lot": lot, "batch": batch, "key": "x", "who": "somebody", **wrong}
    with pytest.raises(IntegrityError), transaction.atomic():
        StockMovement.objects.create(**row)


def test_movements_are_never_edited_or_deleted(lot):
    movement = lot.movements.get()
    movement.mass_lb = Decimal(1)
    for write in (
        movement.save,
        movement.delete,
        lot.movements.all().delete,
        lambda: StockMovement.objects.update(mass_lb=1),
        lambda: StockMovement.objects.filter(lot=lot).update(why="x"),
    ):
        with pytest.raises(WrittenOnce):
            write()
    assert lot.movements.get().mass_lb == 1000


def test_an_empty_lot_is_used_up_until_something_is_found_in_it(lot, batch, plant_worker):
    use_lot(lot=lot, mass_lb=1000, batch=batch, acting_user=plant_worker, key="a")
    assert StockLot.objects.get(pk=lot.pk).state == "exhausted"
    adjust_lot(lot=lot, mass_lb=12, why="Heel found.", acting_user=plant_worker, key="b")
    assert StockLot.objects.get(pk=lot.pk).state == "ok"
    assert [event.to_status for event in lot.events.all()] == ["exhausted", "ok"]


def test_an_adjustment_gives_its_reason_and_may_not_go_below_zero(lot, plant_worker):
    with pytest.raises(BadInput):
        adjust_lot(lot=lot, mass_lb=-1, why="", acting_user=plant_worker, key="a")
    with pytest.raises(BadInput):
        adjust_lot(lot=lot, mass_lb=-1001, why="Leak.", acting_user=plant_worker, key="b")
    adjust_lot(lot=lot, mass_lb=-1, why="Sample drawn.", acting_user=plant_worker, key="c")
    assert on_hand(lot) == 999


def test_a_count_books_the_difference_once_and_only_against_the_balance_that_was_seen(
    lot, batch, plant_worker
):
    count = {"lot": lot, "why": "Monthly count.", "acting_user": plant_worker}
    first = count_lot(found_lb=Decimal(980), seen_lb=Decimal(1000), key="a", **count)
    again = count_lot(found_lb=Decimal(980), seen_lb=Decimal(1000), key="a", **count)
    assert first == again
    assert first.mass_lb == -20
    assert on_hand(lot) == 980
    use_lot(lot=lot, mass_lb=80, batch=batch, acting_user=plant_worker, key="b")
    with pytest.raises(ChangedMeanwhile, match="900"):
        count_lot(found_lb=Decimal(970), seen_lb=Decimal(980), key="c", **count)
    assert count_lot(found_lb=Decimal(900), seen_lb=Decimal(900), key="d", **count) is None
    with pytest.raises(BadInput):
        count_lot(found_lb=Decimal(-1), seen_lb=Decimal(900), key="e", **count)
    assert on_hand(lot) == 900


def test_a_moved_part_is_a_lot_of_its_own_with_the_same_certificate(plant_worker, batch):
    lot = make_lot(
        BaseStockFactory(code="MOVED"), plant_worker, 1000, figures={"K2O": 24.5}, supplier_lot="S9"
    )
    move = {"lot": lot, "mass_lb": 300, "location": "Tank 4", "acting_user": plant_worker}
    part = transfer_lot(key="t", **move)
    assert transfer_lot(key="t", **move) == part
    part.refresh_from_db()
    assert (on_hand(lot), part.on_hand_lb, part.location) == (700, 300, "Tank 4")
    assert (part.split_from, part.supplier_lot, part.analysis()) == (lot, "S9", {"K2O": 24.5})
    with pytest.raises(BadInput, match="holds 700 lb"):
        transfer_lot(**{**move, "mass_lb": 701}, key="u")
    assert StockLot.objects.filter(split_from=lot).count() == 1
    assert on_hand(lot) == 700


def test_nothing_goes_into_a_cancelled_batch(lot, batch, plant_worker):
    cancel_batch(batch=batch, acting_user=plant_worker, why="Not wanted.")
    with pytest.raises(IllegalMove):
        use_lot(lot=lot, mass_lb=1, batch=batch, acting_user=plant_worker, key="a")


def test_reps_and_customers_move_no_stock(lot, batch, rep, customer):
    for person in (rep, customer):
        with pytest.raises(NotAllowed):
            use_lot(lot=lot, mass_lb=1, batch=batch, acting_user=person, key="a")
        with pytest.raises(NotAllowed):
            adjust_lot(lot=lot, mass_lb=1, why="x", acting_user=person, key="a")
        with pytest.raises(NotAllowed):
            transfer_lot(lot=lot, mass_lb=1, location="x", acting_user=person, key="a")
        with pytest.raises(NotAllowed):
            make_lot(lot.stock, person)
    assert on_hand(lot) == 1000


def test_a_delivery_sent_twice_is_one_lot(lot, plant_worker):
    first = make_lot(lot.stock, plant_worker, 500, key="truck-1")
    assert make_lot(lot.stock, plant_worker, 500, key="truck-1") == first
    assert StockLot.objects.filter(stock=lot.stock).count() == 2


def test_check_ledger_passes_a_sound_ledger_and_fails_on_a_difference(lot):
    out, err = StringIO(), StringIO()
    call_command("check_ledger", stdout=out)
    assert "1 lots add up" in out.getvalue()
    StockLot.objects.filter(pk=lot.pk).update(on_hand_lb=Decimal("999.999"))
    with pytest.raises(CommandError, match="1 lots"):
        call_command("check_ledger", stderr=err)
    assert "balance 999.999 lb, movements 1,000 lb" in err.getvalue()
    StockMovement.objects.filter(lot=lot)._raw_delete("default")
    assert [(found, moved) for found, moved in ledger_differences()] == [(lot, 0)]


entries = st.lists(
    st.tuples(
        st.sampled_from(["use", "adjust", "transfer", "receive"]),
        st.decimals("-60", "60", places=3),
    ),
    max_size=12,
)


@given(entries)
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_whatever_is_tried_every_balance_is_the_sum_of_its_movements(batch, plant_worker, entries):
    """Refused entries leave nothing behind, allowed ones leave exactly themselves."""
    worker = plant_worker
    with transaction.atomic():
        lot = make_lot(BaseStockFactory(), worker, 100)
        held = Decimal(100)
        for kind, mass in entries:
            try:
                if kind == "use":
                    use_lot(lot=lot, mass_lb=mass, batch=batch, acting_user=worker, key=new_key())
                    held -= mass
                elif kind == "adjust":
                    adjust_lot(lot=lot, mass_lb=mass, why="x", acting_user=worker, key=new_key())
                    held += mass
                elif kind == "transfer":
                    part = transfer_lot(
                        lot=lot, mass_lb=mass, location="x", acting_user=worker, key=new_key()
                    )
                    assert on_hand(part) == mass
                    held -= mass
                else:
                    make_lot(lot.stock, worker, mass)
            except DomainError:
                continue
        assert on_hand(lot) == held >= 0
        assert ledger_differences() == []
        transaction.set_rollback(True)


def test_receiving_needs_a_key(lot, plant_worker):
    with pytest.raises(BadInput):
        make_lot(lot.stock, plant_worker, key=" ")
