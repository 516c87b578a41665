"""How long the stock plan takes a worker, and its page. Nothing here is a pass or a fail.

    pytest tests/benchmarks/test_stock_plan_speed.py --benchmark-enable --benchmark-only -s

Three hundred open orders, each all or nothing, over forty stocks of which there is about two
thirds of what is asked. Every figure is invented. ``test_allocation_speed`` holds the engine
against the solver alone.
"""

import time
from decimal import Decimal

import numpy as np
import pytest
from django.db.models import Sum
from django.urls import reverse

from blendshop.errors import BadInput
from formulas.blends.actions import save_blend
from formulas.engine.allocation import allocating as allocation
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from orders.models import Order, StockReservation
from tests.benchmarks.engine_problems import KEYS, WISHED
from tests.benchmarks.figures import ms, ratio
from tests.factories import BaseStockFactory, ShipToFactory, in_days, make_price_setup, today
from tests.orders.allocation.stock_plan_cases import planned
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import placed_order

ORDERS, STOCKS = 300, 40


def make_stocks(rng):
    for number in range(STOCKS - 1):
        kinds = rng.choice(KEYS, 3, replace=False)
        BaseStockFactory(
            code=f"S{number:03d}",
            density_lb_per_gal=round(float(rng.uniform(8.6, 12.5)), 2),
            analysis={str(key): round(float(rng.uniform(2.0, 20.0)), 2) for key in kinds},
            cost_per_lb=f"{rng.uniform(0.05, 1.0):.4f}",
        )
    BaseStockFactory(code="WATER", density_lb_per_gal=8.33, analysis={}, cost_per_lb="0.0010")


def make_revisions(rng, by, count):
    """Blends of a few wishes each; most have room for another recipe."""
    catalogue, found = load_catalogue(today()), []
    while len(found) < count:
        keys = rng.choice(WISHED[:5], 3, replace=False)
        targets = [
            {"nutrient": str(key), "min": round(float(rng.uniform(0.5, 5.0)), 1)} for key in keys
        ]
        # What two blends of a plant leave out differs, so that they do not all want the same.
        left_out = rng.choice([s.code for s in catalogue.stocks if s.code != "WATER"], 18,
                              replace=False)  # fmt: skip
        wish = {
            "targets": targets,
            "exclude": [str(code) for code in left_out],
            "fill": {"volume_gal": 265},
        }
        try:
            revision = save_blend(
                acting_user=by, name=f"Blend {len(found)}", company=None, wish=wish,
                today=today(), catalogue=catalogue,
            )  # fmt: skip
        except BadInput:
            continue
        found.append(revision)
    return found


@pytest.mark.parametrize("blends", [30, 300])
def test_the_page_of_three_hundred_open_orders(
    benchmark, db, blends, rep, formulator, company, client, monkeypatch
):
    rng = np.random.default_rng(5)
    make_price_setup()
    make_stocks(rng)
    revisions = make_revisions(rng, formulator, blends)
    place = ShipToFactory(company=company)
    for number in range(ORDERS):
        order = placed_order(
            rep, company, revision=revisions[number % blends], ship_to=place,
            quantity=int(rng.integers(1, 9)),
        )  # fmt: skip
        Order.objects.filter(pk=order.pk).update(due_on=in_days(int(rng.integers(-3, 40))))
    needed = StockReservation.objects.values_list("stock__code").annotate(Sum("needed_lb"))
    for code, lb in needed:
        share = Decimal(str(round(float(rng.uniform(0.3, 1.2)), 3)))
        make_lot(BaseStock.objects.get(code=code), formulator, round(lb * share, 3))
    for stock in BaseStock.objects.exclude(code__in=[code for code, _ in needed]):
        make_lot(stock, formulator, int(rng.integers(0, 9)) * 1000 + 500)
    asked = []
    monkeypatch.setattr(
        "orders.allocation.stock_plan.allocate",
        lambda *question: (
            asked.append(time.perf_counter()) or timed(asked, allocation.allocate, *question)
        ),
    )
    client.force_login(formulator)
    client.get(reverse("stock_levels"))  # what a server does once: reading routes and templates
    start = time.perf_counter()
    benchmark.pedantic(lambda: planned(formulator), rounds=1)
    took = time.perf_counter() - start
    ms(f"stock_plan_worked_out_{ORDERS}_orders_{blends}_blends", 1000 * took)
    ratio(f"stock_plan_to_engine_{ORDERS}_orders_{blends}_blends", took / sum(asked))
    start = time.process_time()
    page = client.get(reverse("stock_plan"))
    ms(f"stock_plan_page_{ORDERS}_orders_{blends}_blends", 1000 * (time.process_time() - start))
    plan = page.context["page"].plan
    print(  # noqa: T201 - the point of a benchmark
        f"\n{ORDERS} orders of {blends} blends x {STOCKS} stocks: worker {took:.2f} s, "
        f"engine {sum(asked):.2f} s in {len(asked)} plans; {plan.counts}; gap {plan.gap_pct} %; "
        f"page {len(page.content) / 1000:.0f} kB"
    )


def timed(asked, action, *question):
    start = asked.pop()
    answer = action(*question)
    asked.append(time.perf_counter() - start)
    return answer
