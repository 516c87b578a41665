"""How long it takes to price everything anew after a change of costs. Nothing is a pass or a fail.

pytest tests/benchmarks/test_repricing_speed.py --benchmark-enable --benchmark-only -s
"""

import statistics

import numpy as np
from django.utils import timezone

from formulas.engine import recipe_costs_per_lb
from formulas.engine_bridge import load_catalogue, unit_costs
from formulas.models import CostState
from formulas.repricing.actions import costs_of_now, reprice_blocks, write_costs
from formulas.repricing.blocks import Recipes, last_block, read_recipes
from formulas.repricing.figures import RecipeCosts
from orders.repricing.actions import reprice_quotes
from tests.benchmarks.figures import cpu_s, ms, ratio
from tests.benchmarks.large_books import fill_books, new_costs

BLENDS, QUOTES, ROUNDS = 100_000, 10_000, 5


def test_repricing_everything(benchmark, db):
    fill_books(blends=BLENDS, quotes=QUOTES)
    today, last = timezone.localdate(), last_block()

    def whole():
        assert reprice_blocks(0, last, costs_of_now(today)) == BLENDS + 1

    ms("reprice_all_blends_first_time", 1000 * cpu_s(whole))
    product_and_statement = ready_made(today, last)
    pairs = []
    for _ in range(ROUNDS):
        new_costs()
        pairs.append((cpu_s(whole), cpu_s(product_and_statement)))
    taken, bare = (statistics.median(times) for times in zip(*pairs, strict=True))
    ms("reprice_all_blends", 1000 * taken)
    ratio("reprice_all_blends_to_product_and_one_statement", taken / bare)

    def quotes():
        assert reprice_quotes(0, 10**9, costs_of_now(today)) == QUOTES + 2

    times = [cpu_s(quotes) for _ in range(2)]
    ms("open_quote_repriced", 1000 * min(times) / QUOTES)
    ratio("open_quotes_repriced_a_second", QUOTES / min(times))
    benchmark.pedantic(whole, rounds=1)


def ready_made(today, last):
    """The matrix at hand, one product, one statement with as many rows: what cannot be saved."""
    recipes = Recipes.together([read_recipes(block) for block in range(last + 1)])
    catalogue = load_catalogue(today)
    position = {pk: place for place, pk in enumerate(catalogue.codes)}
    shares = np.zeros((len(recipes.revision_ids), len(position)))
    rows = np.repeat(np.arange(len(shares)), recipes.line_counts)
    shares[rows, [position[pk] for pk in recipes.stock_ids.tolist()]] = recipes.pct
    costs = np.array([float(catalogue.cost_per_lb[code]) for code in catalogue.codes.values()])
    per_lb = recipe_costs_per_lb(shares, costs)
    state = CostState.objects.create(catalogue="baseline", day=today)
    result = RecipeCosts(
        revision_ids=recipes.revision_ids,
        per_lb=unit_costs(per_lb),
        per_gal=unit_costs(per_lb * recipes.density_lb_per_gal),
        is_priced=np.ones(len(shares), dtype=bool),
        unavailable={},
    )

    def run():
        recipe_costs_per_lb(shares, costs)
        write_costs(result, state)

    return run
