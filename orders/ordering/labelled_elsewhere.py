"""An address that moved to another state after a load was planned and labelled for it."""

from django.utils.translation import gettext

from orders.models import BatchPart, Order


def labelled_elsewhere(order: Order) -> str:
    """Which batch is labelled for another state than the order goes to by now; empty for none.

    An address may be changed after a load was planned for it, and its label is not.
    """
    there = order.ship_to.state
    parts = BatchPart.objects.filter(order_line__order=order).live().select_related("batch")
    for part in parts.order_by("pk"):
        labelled = part.consignment.ship_to.state
        if labelled != there:
            return gettext(
                "{batch} is planned and labelled for {labelled}, and the address of {number} is in"
                " {there} by now. What is labelled for one state does not leave for another: put"
                " the address right, or, while {batch} is not released, cancel it and plan the"
                " order again, which labels it for {there}. Look first at what the law there"
                " allows; the price stays as it was accepted."
            ).format(batch=part.batch.number, labelled=labelled, number=order.number, there=there)
    return ""
