"""Between the database and the engine: nothing is lost, and the number of queries is fixed."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from formulas.engine_bridge import figure_from_text, load_catalogue
from formulas.models import BaseStock, StockCost
from tests.factories import BaseStockFactory, CompatibilityRuleFactory, make_simple_catalogue

TODAY = date(2026, 6, 1)


def queries_to_load() -> int:
    with CaptureQueriesContext(connection) as seen:
        load_catalogue(TODAY)
    return len(seen)


def test_thirty_stocks_take_as_many_queries_as_three(db: None) -> None:
    for number in range(3):
        BaseStockFactory(analysis={"N.urea": 20.0}, traits=[f"trait{number}"])
    three = queries_to_load()
    for number in range(27):
        BaseStockFactory(analysis={"K2O": 10.0}, traits=[f"trait{number}"])
    # The version before and after; then it is kept, and only the version is asked.
    assert queries_to_load() == three == 7
    assert queries_to_load() == 1


def test_a_stock_arrives_whole(db: None) -> None:
    make_simple_catalogue()
    CompatibilityRuleFactory()
    catalogue = load_catalogue(TODAY)
    uan = next(stock for stock in catalogue.stocks if stock.code == "UAN")
    assert uan.analysis == {"N.urea": 16.4, "N.ammoniacal": 7.8, "N.nitrate": 7.8}
    assert uan.traits == {"nitrate", "ammonium", "urea"}
    assert (uan.density_lb_per_gal, uan.cost_per_lb, uan.charging_rank) == (11.06, 0.18, 40)
    assert catalogue.cost_per_lb["UAN"] == Decimal("0.1800")
    assert catalogue.stock_ids["UAN"] == BaseStock.objects.get(code="UAN").pk
    (rule,) = catalogue.rules
    assert (rule.trait_a, rule.trait_b, rule.effect) == ("calcium", "phosphate", "blocks")


def test_stocks_that_may_not_be_used_are_left_out_with_the_reason(db: None) -> None:
    BaseStockFactory(code="OLD", name="old", retired_on=date(2026, 1, 1))
    BaseStockFactory(code="OUT", name="out", short=True)
    BaseStockFactory(code="NEW", name="new", cost_per_lb=False)
    BaseStockFactory(code="OK", name="ok")
    catalogue = load_catalogue(TODAY)
    assert [stock.code for stock in catalogue.stocks] == ["OK"]
    assert catalogue.left_out == {
        "NEW": "new has no cost on 2026-06-01.",
        "OLD": "old is retired since 2026-01-01.",
        "OUT": "out is short at the moment.",
    }
    with_short = load_catalogue(TODAY, include_short=True)
    assert [stock.code for stock in with_short.stocks] == ["OK", "OUT"]


@pytest.mark.parametrize(
    ("amount", "unit", "per_lb"),
    [("332.00", "ton", "0.166"), ("0.4200", "lb", "0.42"), ("4.00", "gal", "0.4")],
)
def test_costs_per_ton_and_per_gal_become_costs_per_lb(
    db: None, amount: str, unit: str, per_lb: str
) -> None:
    """A ton is 2,000 lb; the stock weighs 10 lb a gallon."""
    stock = BaseStockFactory(code="A", density_lb_per_gal=10.0, cost_per_lb=False)
    StockCost.objects.create(
        stock=stock, amount=Decimal(amount), unit=unit, effective_from=date(2026, 1, 1)
    )
    assert load_catalogue(TODAY).cost_per_lb["A"] == Decimal(per_lb)


def test_the_cost_in_force_is_the_latest_that_has_begun(db: None) -> None:
    stock = BaseStockFactory(code="A", cost_per_lb="0.10")
    for day, amount in ((date(2026, 5, 1), "0.20"), (date(2026, 7, 1), "0.30")):
        StockCost.objects.create(stock=stock, amount=Decimal(amount), unit="lb", effective_from=day)
    assert load_catalogue(date(2026, 4, 30)).cost_per_lb["A"] == Decimal("0.10")
    assert load_catalogue(TODAY).cost_per_lb["A"] == Decimal("0.20")
    assert load_catalogue(date(2026, 7, 1)).cost_per_lb["A"] == Decimal("0.30")
    # A correction of the same day is the later entry.
    StockCost.objects.create(
        stock=stock, amount=Decimal("0.25"), unit="lb", effective_from=date(2026, 5, 1)
    )
    assert load_catalogue(TODAY).cost_per_lb["A"] == Decimal("0.25")


@pytest.mark.parametrize("text", ["", "nan", "inf", "-Infinity", "1_000", "1,5", "ten"])
def test_a_figure_is_a_plain_finite_number(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - Python words some of them
        figure_from_text(text)
