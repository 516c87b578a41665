"""What the page of the stock plan shows: the plan found last, how current it is, what is next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.core.paginator import Page, Paginator
from django.utils import timezone

from blendshop.long_work.models import LongWork
from orders.allocation.plan_state import plan_state
from orders.allocation.planning_work import newest_plan, planning_under_way
from orders.frozen.stock_plan import PlannedOrder, PlannedStock, StockPlan
from orders.models import AcceptedStockPlan

_ORDERS_A_PAGE: Final = 40
#: So many stocks are shown before one asks for all: those that are short come first.
_MOST_STOCKS: Final = 40


@dataclass(frozen=True, slots=True)
class StockPlanPage:
    """``plan`` is None before the first one. ``under_way`` is the planning that has not ended."""

    plan: StockPlan | None
    is_current: bool
    under_way: LongWork | None
    accepted: AcceptedStockPlan | None
    orders: Page[PlannedOrder] | None = None
    stocks: tuple[PlannedStock, ...] = ()
    more_stocks: int = 0

    @property
    def is_accepted(self) -> bool:
        """Whether exactly this was accepted and nothing has changed since."""
        return (
            self.is_current
            and self.plan is not None
            and self.accepted is not None
            and self.accepted.digest == self.plan.digest
        )


def stock_plan_page(asked: str | None = None, *, all_stocks: bool = False) -> StockPlanPage:
    """The page of orders ``asked`` for, of the plan found last."""
    plan = newest_plan()
    accepted = AcceptedStockPlan.objects.defer("shown").order_by("-pk").first()
    under_way = planning_under_way()
    if plan is None:
        return StockPlanPage(None, is_current=False, under_way=under_way, accepted=accepted)
    stocks = plan.stocks
    if not all_stocks and len(stocks) > _MOST_STOCKS:
        stocks = tuple(sorted(stocks, key=lambda row: (not row.is_short, row.code)))[:_MOST_STOCKS]
    return StockPlanPage(
        plan,
        is_current=plan.state == plan_state(timezone.localdate()),
        under_way=under_way,
        accepted=accepted,
        orders=Paginator(plan.orders, _ORDERS_A_PAGE).get_page(asked),
        stocks=stocks,
        more_stocks=len(plan.stocks) - len(stocks),
    )
