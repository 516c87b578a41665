"""How long it takes to see what new costs do, beside repricing at costs in force. No pass, no fail.

pytest tests/benchmarks/test_cost_change_speed.py --benchmark-enable --benchmark-only -s
"""

import statistics
from decimal import Decimal
from functools import partial

from django.utils import timezone

from blendshop.roles import Role
from formulas.models import BaseStock
from formulas.repricing.actions import costs_of_now, reprice_blocks
from formulas.repricing.blocks import last_block
from orders.cost_change.actions.impact import do_part, finish
from orders.cost_change.actions.proposing import NewCost, write_down_costs
from orders.cost_change.page import cost_change_page
from orders.models import CostImpact
from orders.repricing.actions import reprice_quotes
from tests.benchmarks.figures import cpu_s, ms, ratio
from tests.benchmarks.large_books import fill_books, new_costs
from tests.factories import UserFactory

BLENDS, QUOTES, ROUNDS, STOCKS = 100_000, 2_000, 3, 6


def test_seeing_what_new_costs_do(benchmark, db):
    fill_books(blends=BLENDS, quotes=QUOTES)
    today, last = timezone.localdate(), last_block()
    office = UserFactory(email="office@plant.example", name="Ollie Office", role=Role.OFFICE)
    codes = BaseStock.objects.order_by("-code").values_list("code", flat=True)[:STOCKS]
    change = write_down_costs(
        acting_user=office,
        name="Letter",
        costs={code: NewCost(Decimal("0.9"), "lb") for code in [*codes[1:], "UAN"]},
    )
    impact = CostImpact.objects.create(change=change, version=1, state="now")

    def reprice_blends():
        reprice_blocks(0, last, costs_of_now(today))

    def see_blends():
        finish(impact, [do_part({"blocks": [0, last]}, impact, today)], today)

    reprice_blends()
    pairs = []
    for _ in range(ROUNDS):
        new_costs("1.01")
        pairs.append((cpu_s(see_blends), cpu_s(reprice_blends)))
    seen, repriced = (statistics.median(times) for times in zip(*pairs, strict=True))
    ms("new_costs_of_all_blends", 1000 * seen)
    ratio("new_costs_of_all_blends_to_repricing_them", seen / repriced)
    held = cpu_s(lambda: do_part({"quotes": [0, 10**9]}, impact, today))
    repriced = cpu_s(lambda: reprice_quotes(0, 10**9, costs_of_now(today)))
    ms("new_costs_of_an_open_quote", 1000 * held / QUOTES)
    ratio("new_costs_of_open_quotes_to_repricing_them", held / repriced)
    for show in ("quotes", "blends"):
        page = partial(cost_change_page, change, today, show=show, asked="2", below=False)
        ms(f"new_costs_page_of_{show}", 1000 * cpu_s(page))
    benchmark.pedantic(see_blends, rounds=1)
