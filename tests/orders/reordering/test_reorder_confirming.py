"""Confirming a reorder: what was shown, once, by those who may."""

from decimal import Decimal

import pytest
from django.db import transaction

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from formulas.models import BaseStock, Blend, BlendRevision
from orders.models import Order, PlantProfile, QuantityBreak, Quote
from orders.reordering.sources import reorder_of_order
from tests.factories import today
from tests.orders.planning.plant_cases import make_shop, placed_order, save_half_slow
from tests.orders.reordering.reorder_cases import confirm, new_cost


def test_a_customer_orders_what_was_shown_at_once(order, customer):
    new_cost("TRZ", "0.4600")
    reorder = reorder_of_order(order)
    made = confirm(order, customer, reorder=reorder)
    assert isinstance(made, Order)
    assert made != order
    assert made.total == reorder.price.total
    line = made.lines.get()
    assert line.revision == order.lines.get().revision
    assert line.price_per_gal == reorder.lines[0].price.price_per_gal
    assert made.events.get().why == f"Reorder of order {order.number}."
    assert reorder_of_order(made).lines[0].price_change.startswith("Price per gal unchanged")


def test_a_double_click_makes_one_order(order, customer):
    first = confirm(order, customer, once="same")
    new_cost("TRZ", "0.9900")  # even if the price has moved since, the order is there already
    second = confirm(order, customer, once="same", digest="anything")
    assert second == first
    assert Order.objects.count() == 2
    assert confirm(order, customer, once="another") != first


def test_a_reps_confirmation_makes_one_draft_quote(order, rep):
    quote = confirm(order, rep, once="same")
    assert isinstance(quote, Quote)
    assert quote.status == "draft"
    assert quote.total == reorder_of_order(order).price.total
    assert confirm(order, rep, once="same") == quote
    assert Quote.objects.count() == 1
    assert Order.objects.count() == 1


@pytest.mark.parametrize("person", ["customer", "rep"])
def test_a_price_that_moved_since_it_was_shown_is_refused(request, order, person):
    seen = reorder_of_order(order)
    new_cost("TRZ", "0.4600")
    with pytest.raises(ChangedMeanwhile, match="nothing is ordered"):
        confirm(order, request.getfixturevalue(person), digest=seen.digest)
    assert Order.objects.count() == 1
    assert not Quote.objects.exists()


def test_who_confirms_behind_another_order_sees_the_later_date_first(order, rep, customer):
    PlantProfile.objects.update(lead_time_working_days=1)
    shown = reorder_of_order(order)
    # Forty totes more are ten loads: five days of the only tank.
    placed_order(rep, order.company, quantity=40, revision=order.lines.get().revision)
    with pytest.raises(ChangedMeanwhile, match="due date is later now"):
        confirm(order, customer, reorder=shown)
    assert Order.objects.count() == 2
    assert confirm(order, customer).due_on > shown.due_on


def test_a_recipe_solved_again_is_saved_as_a_revision_before_it_is_ordered(
    order, customer, spare_slow_stock
):
    BaseStock.objects.filter(code="TRZ").update(short=True)
    shown = reorder_of_order(order).lines[0].recipe
    made = confirm(order, customer)
    old, new = order.lines.get().revision, made.lines.get().revision
    assert (new.blend, new.number) == (old.blend, old.number + 1)
    assert "is short" in new.note
    saved = dict(new.lines.values_list("stock__code", "pct"))
    assert saved == pytest.approx(dict(shown))


def test_a_plant_book_blend_solved_again_for_a_customer_becomes_its_own_blend(
    rep, company, customer, spare_slow_stock
):
    make_shop()
    revision = save_half_slow(rep, None, "House blend")
    order = placed_order(rep, company, revision=revision)
    BaseStock.objects.filter(code="TRZ").update(short=True)
    made = confirm(order, customer)
    assert made.lines.get().revision.blend.company == company
    assert made.status == "requested", "nobody has reviewed it, and no limits are agreed"
    assert Blend.objects.get(company=None).revisions.count() == 1


def test_nothing_is_ordered_of_what_is_out_of_reach(order, customer):
    BaseStock.objects.filter(code="TRZ").update(retired_on=today())
    with pytest.raises(IllegalMove, match="cannot be made today"):
        confirm(order, customer)
    assert Order.objects.count() == 1
    assert BlendRevision.objects.count() == 1


def test_a_price_below_the_floor_is_not_the_customers_to_confirm(order, customer, rep):
    QuantityBreak.objects.create(above_gal=1, margin_points_off=Decimal("24.00"))
    assert reorder_of_order(order).price.needs_approval
    with pytest.raises(IllegalMove, match="needs our approval"):
        confirm(order, customer)
    quote = confirm(order, rep)
    assert quote.needs_approval


def test_a_stranger_and_a_form_without_its_mark_are_refused(order, stranger, customer):
    with pytest.raises(NotAllowed):
        confirm(order, stranger)
    with pytest.raises(BadInput):
        confirm(order, customer, once=" ")
    assert Order.objects.count() == 1


def test_a_failure_halfway_leaves_neither_revision_nor_order(
    order, customer, spare_slow_stock, monkeypatch
):
    BaseStock.objects.filter(code="TRZ").update(short=True)

    def broken(**kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("orders.reordering.actions.place_order", broken)
    with pytest.raises(RuntimeError), transaction.atomic():
        confirm(order, customer)
    assert BlendRevision.objects.count() == 1
    assert Order.objects.count() == 1
