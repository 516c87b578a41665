"""A plant with too little of a stock, and the plan of it, for tests of the stock plan."""

from decimal import Decimal
from typing import Any

from blendshop.accounts.models import Company, User
from formulas.models import BaseStock, BlendRevision
from orders.allocation.actions import accept_stock_plan
from orders.allocation.planning_work import begin_planning, newest_plan
from orders.frozen.stock_plan import PlannedLine, StockPlan
from orders.models import AcceptedStockPlan, Order, OrderLine, StockReservation
from tests.factories import BaseStockFactory, ShipToFactory, in_days
from tests.jobs.queue_cases import run_due
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import make_shop, placed_order


def make_plan_shop() -> None:
    """The simple plant, and a dearer urea solution that can stand in for UAN."""
    make_shop()
    BaseStockFactory(
        code="URE",
        name="strong urea solution",
        density_lb_per_gal=12.5,  # denser than what it stands in for
        analysis={"N.urea": 32.0},
        traits=["urea"],
        cost_per_lb="0.5000",
    )


def due(order: Order, days: int) -> Order:
    Order.objects.filter(pk=order.pk).update(due_on=in_days(days))
    order.refresh_from_db()
    return order


def need(order: Order, code: str) -> Decimal:
    row = StockReservation.objects.get(order_line__order=order, stock__code=code)
    return row.needed_lb


def stock_up(by: User, **lb: Any) -> None:
    for code, mass in lb.items():
        make_lot(BaseStock.objects.get(code=code), by, round(Decimal(mass), 3))


def make_two(revision: BlendRevision, rep: User, company: Company) -> tuple[Order, Order]:
    """Two orders alike; the first is due earlier."""
    place = ShipToFactory(company=company)
    first, second = (placed_order(rep, company, revision=revision, ship_to=place) for _ in range(2))
    return due(first, 3), due(second, 20)


def make_scarce(two: tuple[Order, Order], formulator: User) -> tuple[Order, Order]:
    """UAN for one of the two and a little; urea solution to stand in for it."""
    one = need(two[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=40_000, KAC=10_000, URE=40_000)
    return two


def rows(plan: StockPlan) -> dict[str, str]:
    return {row.number: row.verdict for row in plan.orders}


def planned(by: User) -> StockPlan:
    """The plan of now, worked out and stored as a worker does."""
    begin_planning(by)
    run_due()
    plan = newest_plan()
    assert plan is not None
    return plan


def accept(by: User) -> AcceptedStockPlan:
    return accept_stock_plan(digest=planned(by).digest, acting_user=by)


def changed_line(plan: StockPlan) -> OrderLine:
    (row,) = plan.changed
    return line_of(row)


def line_of(row: PlannedLine) -> OrderLine:
    return OrderLine.objects.select_related("order", "revision__blend").get(pk=row.line_id)


def scarce_for(
    revision: BlendRevision, rep: User, company: Company, formulator: User
) -> list[Order]:
    """Two orders of a revision and UAN for one of them, with urea solution to stand in."""
    place = ShipToFactory(company=company)
    orders = [placed_order(rep, company, revision=revision, ship_to=place) for _ in range(2)]
    one = need(orders[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=40_000, KAC=10_000, URE=40_000)
    return orders
