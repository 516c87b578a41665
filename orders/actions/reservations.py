"""Orders reserve the base stocks their recipes need."""

import math
from decimal import Decimal

from orders.models import Order, StockReservation
from orders.models.pounds import PLACES


def reserve_for_order(order: Order) -> None:
    """Write what each line of a new order needs of each stock; asked again, nothing changes.

    Part of placing an order and inside its transaction, so no permission of its own. Nobody
    releases a reservation: a cancelled or shipped order, and a batch that is made, end theirs.
    """
    lines = order.lines.select_related("revision").prefetch_related("revision__lines")
    StockReservation.objects.bulk_create(
        [
            StockReservation(order_line=line, stock_id=share.stock_id, needed_lb=mass)
            for line in lines
            for share in line.revision.lines.all()
            if (mass := _needed(line.mass_lb, share.pct))
        ],
        ignore_conflicts=True,
    )


def _needed(line_lb: float, pct: float) -> Decimal:
    """Pounds of a stock in a line, rounded up to the thousandth a ledger can hold."""
    thousandths = round(line_lb * pct / 100 * 10**PLACES, 6)  # 6: no step up for float noise
    return Decimal(math.ceil(thousandths)).scaleb(-PLACES)
