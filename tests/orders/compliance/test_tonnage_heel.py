"""A heel is shipped once: with the batch it was filled from, never with the one that left it."""

from decimal import Decimal

from django.utils import timezone

from orders.compliance.tonnage import tonnage_report, whole_pounds
from orders.models import BatchClosing, Order, PackageSerial, Tank
from orders.ordering.actions import mark_shipped
from orders.planning.actions.planning import plan_batches
from tests.factories import ShipToFactory
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import placed_order
from tests.orders.tanks.tank_cases import make_and_fill


def test_what_two_batches_shipped_is_what_they_were_charged_less_the_heel_still_there(
    revision, rep, company, plant_worker, office
):
    there = ShipToFactory(company=company, state="MD", county="Howard")
    for _ in range(2):
        order = placed_order(rep, company, revision=revision, ship_to=there, quantity=1)
        (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
        make_and_fill(batch, plant_worker, heel_lb=90)
        approve_labels(order)
        mark_shipped(order=Order.objects.get(pk=order.pk), acting_user=office, why="")
    today = timezone.localdate()
    report = tonnage_report("MD", today, today)
    charged_lb = sum(row.charged_lb for row in BatchClosing.objects.all())
    assert report.lb == sum(whole_pounds(row.net_lb) for row in PackageSerial.objects.all())
    assert abs(Decimal(report.lb) - (charged_lb - 90)) <= 1  # each line is rounded to the pound
    assert not any(shipment.estimated for shipment in report.shipments)
