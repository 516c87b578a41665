"""Orders: placed once from an accepted quote, dated, shipped, cancelled with their batches."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core import mail

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.outbox.actions import deliver_overdue
from formulas.models import StockCost
from orders.models import Order, PlantProfile, Tank
from orders.ordering.actions import (
    cancel_order,
    create_order_from_quote,
    mark_shipped,
    set_due_date,
)
from orders.planning.actions.planning import plan_batches
from orders.planning.working_days import WorkingDays
from orders.quoting.actions.quotes import accept_quote
from tests.factories import PackageFactory, ShipToFactory, in_days, today
from tests.orders.planning.plant_cases import (
    accepted_order,
    newly_accepted_order,
    save_half_slow,
    sent_quote,
)
from tests.orders.production.charging_cases import made_uncharged


def test_an_order_takes_over_the_frozen_figures_of_its_quote_although_costs_have_risen(
    shop, rep, company
):
    quote = sent_quote(rep, save_half_slow(rep, company), ShipToFactory(company=company))
    for cost in StockCost.objects.all():
        StockCost.objects.create(
            stock=cost.stock, effective_from=today(), amount=cost.amount * 2, unit=cost.unit
        )
    order = accept_quote(quote=quote, acting_user=None, name="Casey Owner")
    line, quoted = order.lines.get(), quote.lines.get()
    assert order.total == quote.total > 0
    for name in ("revision", "package", "quantity", "price", "price_per_gal", "line_total"):
        assert getattr(line, name) == getattr(quoted, name)
    event = order.events.get()
    assert (event.from_status, event.to_status, event.by) == ("", "open", None)
    assert "Casey Owner" in event.who
    assert quote.number in event.why


def test_a_quote_becomes_one_order_however_often_it_is_asked_for(shop, rep, company):
    order = accepted_order(rep, company)
    again = create_order_from_quote(quote=order.quote, acting_user=rep, accepted_by="Casey")
    assert again == order
    assert Order.objects.count() == 1
    assert order.events.count() == 1


def test_a_quote_that_is_not_accepted_becomes_no_order(shop, rep, company):
    quote = sent_quote(rep, save_half_slow(rep, company), ShipToFactory(company=company))
    with pytest.raises(IllegalMove, match="sent, not accepted"):
        create_order_from_quote(quote=quote, acting_user=rep, accepted_by="Casey")
    assert not Order.objects.exists()


def test_a_stranger_cannot_order_for_another_company(shop, rep, company, stranger):
    order = accepted_order(rep, company)
    with pytest.raises(NotAllowed):
        create_order_from_quote(quote=order.quote, acting_user=stranger, accepted_by="Sam")


@pytest.mark.parametrize("days", [None, 3])
def test_an_order_is_due_after_the_plants_lead_time(shop, rep, company, days):
    if days:
        PlantProfile.objects.update(lead_time_working_days=days)
    due_on = WorkingDays({1, 2, 3, 4, 5}, set()).after(today(), days or 7)
    assert accepted_order(rep, company).due_on == due_on


def test_a_date_before_it_can_be_made_needs_a_reason_that_stays_with_the_order(shop, rep, company):
    order = accepted_order(rep, company)
    with pytest.raises(BadInput, match="cannot be made by then: earliest") as refused:
        set_due_date(order=order, acting_user=rep, due_on=today())
    assert "why" in refused.value.fields
    set_due_date(order=order, acting_user=rep, due_on=today(), why="Overtime is agreed.")
    order.refresh_from_db()
    assert order.due_on == today()
    event = order.events.last()
    earliest = WorkingDays({1, 2, 3, 4, 5}, set()).after(today(), 2)  # a load, a day to release
    assert (event.why, event.data["earliest"]) == ("Overtime is agreed.", [earliest.isoformat()])


def test_the_customer_gets_a_confirmation_after_the_commit(shop, rep, company, customer):
    order = newly_accepted_order(rep, company)
    assert not mail.outbox
    deliver_overdue.call()
    (sent,) = [m for m in mail.outbox if m.subject == f"Order {order.number} is confirmed"]
    assert sent.to == [customer.email]
    assert "Half slow summer 24-0-3" in sent.body
    assert f"Total: ${order.total:,.2f}" in sent.body
    assert f"/orders/{order.number}/" in sent.body


def test_moving_the_due_date_leaves_a_note_with_both_days(shop, rep, company, plant_worker):
    order = accepted_order(rep, company)
    old = order.due_on
    set_due_date(order=order, acting_user=plant_worker, due_on=in_days(30), why="tank repair")
    order.refresh_from_db()
    assert order.due_on == in_days(30)
    event = order.events.last()
    assert event.from_status == event.to_status == "open"
    assert event.data == {"due_on": [old.isoformat(), in_days(30).isoformat()]}


@pytest.mark.parametrize("status", ["shipped", "cancelled"])
def test_the_due_date_of_a_finished_order_is_final(shop, rep, company, status):
    order = accepted_order(rep, company)
    Order.objects.update(status=status)
    order.refresh_from_db()
    with pytest.raises(IllegalMove):
        set_due_date(order=order, acting_user=rep, due_on=in_days(30))


def test_a_due_date_in_the_past_and_a_customer_setting_one_are_refused(
    shop, rep, company, customer
):
    order = accepted_order(rep, company)
    with pytest.raises(BadInput) as refused:
        set_due_date(order=order, acting_user=rep, due_on=today() - timedelta(days=1))
    assert "due_on" in refused.value.fields
    with pytest.raises(NotAllowed):
        set_due_date(order=order, acting_user=customer, due_on=in_days(30))
    assert order.events.count() == 1


def test_cancelling_an_order_takes_its_planned_batches_along(
    shop, rep, company, customer, plant_worker
):
    order = accepted_order(rep, company, quantity=9)
    batches = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    order.refresh_from_db()
    cancel_order(order=order, acting_user=rep, why="customer sold the route")
    deliver_overdue.call()
    assert len(batches) == 3
    for batch in batches:
        batch.refresh_from_db()
        assert batch.status == "cancelled"
        assert order.number in batch.events.last().why
    assert "customer sold the route" in mail.outbox[-1].body


def test_an_order_with_a_made_batch_is_not_cancelled_and_nothing_of_it_changes(
    shop, rep, company, plant_worker
):
    order = accepted_order(rep, company, quantity=9)
    first, *rest = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    made_uncharged(first, plant_worker)
    order.refresh_from_db()
    with pytest.raises(IllegalMove, match=f"{first.number} is already made"):
        cancel_order(order=order, acting_user=rep, why="too late")
    order.refresh_from_db()
    assert order.status == "planned"
    assert [part.batch.status for part in order.lines.get().parts.all()] == [
        "made",
        *["planned"] * len(rest),
    ]


def test_cancelling_needs_a_reason(shop, rep, company):
    order = accepted_order(rep, company)
    with pytest.raises(BadInput):
        cancel_order(order=order, acting_user=rep, why="  ")


def test_a_shipped_order_is_told_to_the_customer(shop, rep, company, customer, office):
    order = accepted_order(rep, company)
    Order.objects.update(status="made")
    order.refresh_from_db()
    mark_shipped(order=order, acting_user=office)
    deliver_overdue.call()
    assert order.number in mail.outbox[-1].subject
    assert "safety data sheet" in mail.outbox[-1].body


def test_deposits_of_the_quote_stand_on_the_order(shop, rep, company):
    deposit = PackageFactory(
        code="tote-dep",
        name="275 gal tote on deposit",
        plural_name="275 gal totes on deposit",
        kind="tote_deposit",
        price=Decimal(0),
        deposit=Decimal("150.00"),
    )
    order = accepted_order(rep, company, quantity=2, package=deposit)
    assert order.deposit_total == Decimal("300.00")
    assert order.total == order.lines.get().line_total + Decimal("300.00")
