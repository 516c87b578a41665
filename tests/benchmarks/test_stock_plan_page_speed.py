"""How long the page of a large stored plan takes. Nothing here is a pass or a fail.

    pytest tests/benchmarks/test_stock_plan_page_speed.py --benchmark-enable --benchmark-only -s

Four hundred orders over three hundred stocks, every figure invented; the plan is written as a
worker leaves it. ``test_stock_plan_speed`` holds what the worker does.
"""

import statistics
import time
from decimal import Decimal

from django.urls import reverse
from django.utils import timezone

from blendshop.long_work.models import LongWork
from formulas.engine.allocation.allocating import OrderVerdict
from orders.allocation.plan_state import plan_state
from orders.allocation.planning_work import STOCK_PLANNING
from orders.frozen.stock_plan import (
    PlannedLine,
    PlannedOrder,
    PlannedStock,
    ShareChange,
    StockPlan,
    StockPounds,
)
from tests.benchmarks.figures import ms
from tests.factories import in_days, today

ORDERS, STOCKS, ROUNDS = 400, 300, 7
VERDICTS = (OrderVerdict.OWN_RECIPE, OrderVerdict.CHANGED_RECIPE, OrderVerdict.NOT_NOW)


def line_of(number):
    verdict = VERDICTS[number % 3]
    is_changed = verdict is OrderVerdict.CHANGED_RECIPE
    shares = {f"S{stock:03d}": 12.5 for stock in range(8)}
    return PlannedLine(
        line_id=number, position=1, revision_id=number, revision_number=1, accepted_id=number,
        accepted_number=1, blend=f"Half slow summer, variant {number}", grade="24-0-3",
        package="265 gal tote", packages="265 gal totes", is_bulk=False, quantity=4, ordered=4,
        volume_gal=1060.0, own_lb=11_242.3, mass_lb=11_242.3, verdict=verdict,
        changes=tuple(
            ShareChange(code=code, name=f"Stock {code}", own_pct=10.0, new_pct=pct, lb=281.0)
            for code, pct in shares.items()
        ) if is_changed else (),
        shares=shares if is_changed else None,
        missing=(StockPounds(code="S001", name="Stock S001", lb=310.0),)
        if verdict is OrderVerdict.NOT_NOW else (),
        extra_cost=Decimal("12.30") if is_changed else None,
        jar_words="No jar like it was tested; do a jar test before the batch." * is_changed,
        jar_query="&".join(f"part_{code}={pct}" for code, pct in shares.items()),
    )  # fmt: skip


def large_plan():
    orders = tuple(
        PlannedOrder(
            order_id=number, number=f"O-2026-{number:04d}", company=f"Customer {number}",
            due_on=in_days(number // 10), lines=(line_of(number),),
        )
        for number in range(ORDERS)
    )  # fmt: skip
    stocks = tuple(
        PlannedStock(
            code=f"S{number:03d}", name=f"Stock S{number:03d}", on_hand_lb=40_000.0,
            wanted_lb=30_000.0 + 100 * number, used_lb=29_000.0, left_lb=11_000.0,
            buy_lb=1_200.0 * (number % 6 == 0), buy_by=in_days(9),
        )
        for number in range(STOCKS)
    )  # fmt: skip
    return StockPlan(
        state=plan_state(today()), as_of=timezone.now(), orders=orders, stocks=stocks, gap_pct=0.4
    )


def test_the_page_of_four_hundred_orders(benchmark, db, formulator, client):
    LongWork.objects.create(
        kind=STOCK_PLANNING.name, state=LongWork.State.DONE, ended_at=timezone.now(),
        result=large_plan().to_json(),
    )  # fmt: skip
    client.force_login(formulator)
    page = client.get(reverse("stock_plan"))
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        client.get(reverse("stock_plan"))
        times.append(1000 * (time.process_time() - start))
    ms(f"stock_plan_page_{ORDERS}_orders_{STOCKS}_stocks", statistics.median(times))
    benchmark.pedantic(client.get, args=(reverse("stock_plan"),), rounds=1)
    print(f"kB stock_plan_page {len(page.content) / 1000:.0f}")  # noqa: T201 - it says what it measured
