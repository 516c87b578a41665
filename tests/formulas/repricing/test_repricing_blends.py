"""All saved blends at today's costs: the same figures as one alone, read from packed recipes."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import example, given
from hypothesis import strategies as st

from blendshop.accounts.models import User
from formulas.blends.reprice import reprice_revisions
from formulas.engine_bridge import load_catalogue, unit_cost, unit_costs
from formulas.models import BaseStock, BlendRevision, RecipeBlock, RevisionCost, StockCost
from formulas.repricing.actions import costs_of_now, reprice_blocks
from formulas.repricing.blocks import Recipes, last_block
from tests.factories import make_simple_catalogue
from tests.orders.quoting.quote_cases import make_revision

TODAY = date(2026, 6, 1)


@pytest.fixture
def revisions(rep: User) -> list[BlendRevision]:
    make_simple_catalogue()
    recipes = (
        {"UAN": 50.0, "WATER": 50.0},
        {"UAN": 33.333333, "TRZ": 33.333333, "KAC": 33.333334},
        {"TRZ": 12.345678, "WATER": 87.654322},
    )
    return [
        make_revision(None, rep, shares, name=f"Blend {number}")
        for number, shares in enumerate(recipes)
    ]


def reprice_all() -> int:
    return reprice_blocks(0, last_block(), costs_of_now(TODAY))


def set_cost(code: str, amount: str) -> None:
    stock = BaseStock.objects.get(code=code)
    StockCost.objects.create(
        stock=stock, amount=Decimal(amount), unit="lb", effective_from=date(2026, 5, 1)
    )


def test_each_blend_costs_what_it_costs_alone(revisions: list[BlendRevision]) -> None:
    assert reprice_all() == 3
    set_cost("UAN", "0.2345")
    BaseStock.objects.filter(code="KAC").update(short=True)
    StockCost.objects.filter(stock__code="TRZ")._raw_delete(using="default")
    assert reprice_all() == 3
    alone = reprice_revisions(revisions, load_catalogue(TODAY))
    stored = [RevisionCost.objects.get(revision=revision) for revision in revisions]
    assert [(row.cost_per_lb, row.cost_per_gal) for row in stored] == [
        (found.cost_per_lb, found.cost_per_gal) for found in alone
    ]
    # By hand: half of 23.45 cents, half of water at a tenth of a cent, 10 lb a gallon.
    assert (stored[0].cost_per_lb, stored[0].cost_per_gal) == (Decimal("0.1178"), Decimal("1.1775"))
    assert stored[1].cost_per_lb is None
    assert sorted(stored[1].unavailable.split(", ")) == ["KAC", "TRZ"]
    assert {row.state for row in stored} == {stored[0].state}
    assert stored[0].state.day == TODAY


def test_recipes_are_read_from_their_blocks_until_one_is_added(
    revisions: list[BlendRevision], rep: User
) -> None:
    def tables_read() -> str:
        with CaptureQueriesContext(connection) as asked:
            reprice_all()
        return " ".join(query["sql"] for query in asked.captured_queries)

    assert "formulas_revisionline" in tables_read()
    assert "formulas_revisionline" not in tables_read()
    make_revision(None, rep, {"TRZ": 100.0}, name="One more")
    assert "formulas_revisionline" in tables_read()
    assert RevisionCost.objects.get(revision__blend__name="One more").cost_per_lb == Decimal("0.42")
    assert sum(RecipeBlock.objects.values_list("revisions", flat=True)) == 4


def test_packed_recipes_come_back_as_they_were() -> None:
    recipes = Recipes(
        revision_ids=np.array([7, 9]),
        density_lb_per_gal=np.array([10.5, 8.34]),
        line_counts=np.array([2, 1]),
        stock_ids=np.array([1, 3, 2]),
        pct=np.array([12.5, 87.5, 100.0]),
    )
    again = Recipes.unpacked(recipes.packed())
    for name in Recipes.__slots__:
        assert getattr(again, name).tolist() == getattr(recipes, name).tolist(), name


#: Sums of products of shares and costs, and what lies on a half or as near to it as a double can.
_HALVES = st.builds(
    lambda tenths, off: float(np.nextafter(tenths / 100_000, off)),
    st.integers(0, 10**9),
    st.sampled_from([0.0, np.inf]),
)
_COSTS = st.one_of(
    st.floats(0, 20_000),
    st.integers(0, 10**9).map(lambda tenths: tenths / 100_000),
    _HALVES,
)


@given(st.lists(_COSTS, min_size=1, max_size=50))
@example([0.00015, 0.00145, 4.9999999999999996e-05])  # where the product alone rounds wrongly
def test_many_costs_are_rounded_as_one_is(costs: list[float]) -> None:
    ticks = unit_costs(np.array(costs)).tolist()
    assert [Decimal(each) / 10_000 for each in ticks] == [unit_cost(cost) for cost in costs]
