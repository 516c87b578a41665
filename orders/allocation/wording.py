"""A stock plan in sentences: for an order's history, and for the line of the work it was."""

from django.utils.translation import gettext as _

from blendshop.figures.readers import reader
from formulas.engine.allocation.allocating import OrderVerdict
from orders.frozen.stock_plan import PlannedLine, PlannedOrder, StockPlan


def order_in_words(order: PlannedOrder) -> str:
    """What the plan does with an order, for its history."""
    return " ".join(_line_in_words(line) for line in order.lines)


def counts_in_words(plan: StockPlan) -> str:
    """How many orders can be made now and how many wait."""
    if not plan.orders:
        return _("There is nothing to plan.")
    counts = plan.counts
    return _("{now} can be made now, {waits} not or in part.").format(
        now=counts["full"] + counts["changed"], waits=counts["some"] + counts["waits"]
    )


def _line_in_words(line: PlannedLine) -> str:
    what = f"Line {line.position}:"
    if line.verdict is OrderVerdict.OWN_RECIPE:
        return f"{what} can be made now."
    if line.is_changed:
        return f"{what} can be made now with another recipe within its guarantees."
    lacks = ", ".join(f"{reader().mass(each.lb, 0)} {each.code}" for each in line.missing)
    return f"{what} waits for stock ({lacks or 'taken by more pressing orders'})."
