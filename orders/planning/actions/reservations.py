"""Orders reserve the base stocks their recipes need."""

import math
from decimal import Decimal

from formulas.models import BlendRevision
from orders.models import Order, OrderLine, StockReservation
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
            if (mass := needed_lb(line.mass_lb, share.pct))
        ],
        ignore_conflicts=True,
    )


def reserve_again(line: OrderLine, revision: BlendRevision) -> None:
    """Let the reservations of a line follow the recipe it will be made by.

    Ordered are gallons, so the pounds are those of the new recipe's density. Part of planning a
    recipe and inside its transaction; for lines without batches only, whose reservations are
    counted by their recipe.
    """
    mass_lb = line.mass_lb
    if revision.pk != line.revision_id:
        mass_lb = line.volume_gal * revision.density_lb_per_gal
    StockReservation.objects.filter(order_line=line).delete()
    StockReservation.objects.bulk_create(
        StockReservation(order_line=line, stock_id=share.stock_id, needed_lb=mass)
        for share in revision.lines.all()
        if (mass := needed_lb(mass_lb, share.pct))
    )


def needed_lb(line_lb: float, pct: float) -> Decimal:
    """Pounds of a stock in a line, rounded up to the thousandth a ledger can hold."""
    thousandths = round(line_lb * pct / 100 * 10**PLACES, 6)  # 6: no step up for float noise
    return Decimal(math.ceil(thousandths)).scaleb(-PLACES)
