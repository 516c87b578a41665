"""Costs of many stocks at once: what is shipped comes in with its first cost."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from blendshop.errors import BadInput, NotAllowed
from formulas import reference
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, CompatibilityRule, StockCost
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from formulas.stocks.cost_table import CostTable
from tests.factories import BaseStockFactory
from tests.formulas.stocks.sure import surely

pytestmark = pytest.mark.django_db

DAY = date(2026, 3, 1)
PAGE = "/stocks/costs/"


def set_costs(by, **costs):
    prices = {code: StockPrice(Decimal(amount), unit) for code, (amount, unit) in costs.items()}
    return surely(set_stock_costs, acting_user=by, costs=prices, effective_from=DAY)


def test_a_first_cost_takes_the_stock_in_with_all_rules(office):
    set_costs(office, UAN32=("374", "ton"), WATER=("0", "gal"))
    assert set(BaseStock.objects.values_list("code", flat=True)) == {"UAN32", "WATER"}
    assert CompatibilityRule.objects.count() == len(reference.compatibility_rules())
    catalogue = load_catalogue(DAY)
    assert catalogue.cost_per_lb == {"UAN32": Decimal("0.187"), "WATER": Decimal(0)}
    entry = StockCost.objects.get(stock__code="UAN32")
    assert (entry.amount, entry.unit, entry.entered_by) == (Decimal(374), "ton", office)


def test_a_cost_that_stands_is_not_written_again_and_another_unit_is_another_cost(formulator):
    set_costs(formulator, UAN32=("0.2", "lb"))
    again = set_costs(formulator, UAN32=("0.2000", "lb"))
    assert (again.created, again.kept) == (0, 1)
    assert set_costs(formulator, UAN32=("0.2", "gal")).created == 1
    assert StockCost.objects.count() == 2


def test_what_the_plant_changed_about_a_shipped_stock_stays(office):
    set_costs(office, UAN32=("374", "ton"))
    BaseStock.objects.update(max_pct=60)
    set_costs(office, UAN32=("380", "ton"), UAN28=("332", "ton"))
    assert BaseStock.objects.get(code="UAN32").max_pct == 60


def test_one_wrong_code_or_cost_and_nothing_is_written(office):
    with pytest.raises(BadInput) as refused:
        set_costs(office, UAN32=("374", "ton"), NOTHING=("1", "lb"), UAN28=("-1", "ton"))
    assert set(refused.value.fields) == {"NOTHING", "UAN28"}
    assert not BaseStock.objects.exists()
    assert not CompatibilityRule.objects.exists()


def test_a_rep_sets_no_costs(rep, signed_in):
    with pytest.raises(NotAllowed):
        set_costs(rep, UAN32=("374", "ton"))
    assert signed_in(rep).get(PAGE).status_code == 403


def typed(**changes):
    """The table as a browser sends it, with some fields typed in."""
    table = CostTable(timezone.localdate())
    sent = {"effective_from": timezone.localdate().isoformat()}
    for row in table.rows:
        for name, field in row.form.fields.items():
            sent[f"{row.code}-{name}"] = row.form.get_initial_for_field(field, name) or ""
    return sent | {key.replace("__", "-"): value for key, value in changes.items()}


def test_the_page_writes_what_was_typed_and_nothing_else(office, signed_in):
    own = BaseStockFactory(code="OWN", cost_per_lb="0.5000")
    client = signed_in(office)
    answer = client.post(PAGE, typed(UAN32__amount="374"), follow=True)
    assert "1 cost recorded." in answer.content.decode()
    assert StockCost.objects.count() == 2
    client.post(PAGE, typed(OWN__amount="0.55"))
    assert [cost.amount for cost in own.costs.order_by("pk")] == [Decimal("0.5"), Decimal("0.55")]
    assert StockCost.objects.filter(stock__code="UAN32").count() == 1


@pytest.mark.parametrize(
    ("amount", "unit", "new", "pct", "is_large"),
    [
        ("400", "ton", "0.2", "0", False),  # the same money
        ("500", "ton", "0.25", "25", False),
        ("500.02", "ton", "0.25001", "25.005", True),
        ("300", "ton", "0.15", "-25", False),
        ("299", "ton", "0.1495", "-25.25", True),
        ("400", "lb", "400", "199900", True),  # the unit slipped
        ("2.2", "gal", "0.2", "0", False),  # 11 lb/gal
    ],
)
def test_a_move_is_counted_per_pound_whatever_the_unit(amount, unit, new, pct, is_large, office):
    BaseStockFactory(code="OWN", density_lb_per_gal=11.0, cost_per_lb="0.2000")
    table = CostTable(timezone.localdate(), typed(OWN__amount=amount, OWN__unit=unit))
    assert table.is_valid()
    (move,) = [row.move for row in table.rows if row.move]
    assert (move.new_per_lb, move.pct, move.is_large) == (Decimal(new), Decimal(pct), is_large)


def test_a_large_move_is_asked_about_once_and_another_one_again(office, signed_in):
    own = BaseStockFactory(code="OWN", cost_per_lb="0.2000")
    client = signed_in(office)
    slip = typed(OWN__amount="2", UAN32__amount="374")
    BaseStockFactory(code="LEFT", cost_per_lb="0.3000")
    slip |= {"LEFT-amount": "0.3", "LEFT-unit": "lb"}
    asked = client.post(PAGE, slip)
    text = asked.content.decode()
    assert text.count("→ <strong>") == 1  # what was typed over a cost, and none that stands
    assert asked.status_code == 409
    assert "+900.0 %" in text
    assert StockCost.objects.count() == 2
    yes = re.search(r'name="sure" value="([^"]+)"', text)[1]
    assert client.post(PAGE, slip | {"OWN-amount": "20", "sure": yes}).status_code == 409
    assert client.post(PAGE, slip | {"sure": yes}).status_code == 302
    assert own.costs.first().amount == 2
    assert StockCost.objects.count() == 4


def test_a_row_that_is_typed_says_what_it_makes_of_its_cost(office, signed_in):
    BaseStockFactory(code="OWN", cost_per_lb="0.2000")
    client = signed_in(office)
    cell = client.get("/stocks/costs/OWN/move/", {"OWN-amount": "0.22", "OWN-unit": "lb"})
    assert "$0.20 → <strong>$0.22</strong>" in cell.content.decode()
    assert "+10.0 %" in cell.content.decode()
    assert client.get("/stocks/costs/NOTHING/move/").status_code == 404


def test_a_stock_keeps_its_unit_and_shows_the_cost_that_is_entered_for_later(office, signed_in):
    later = timezone.localdate() + timedelta(days=40)
    stock = BaseStockFactory(code="OWN", cost_per_lb=False)
    StockCost.objects.create(stock=stock, amount=3, unit="gal", effective_from=later)
    row = next(row for row in CostTable(timezone.localdate()).rows if row.code == "OWN")
    assert (row.has_cost, row.form.initial) == (False, {"unit": "gal"})
    assert f"/lb from {later:%b}" in signed_in(office).get(PAGE).content.decode()


def test_the_table_asks_no_more_of_the_database_for_more_stocks(office, signed_in):
    client = signed_in(office)
    counts = []
    for number in range(2):
        for place in range(1 + 20 * number):
            BaseStockFactory(code=f"OWN{number}-{place}", cost_per_lb="0.2000")
        with CaptureQueriesContext(connection) as queries:
            client.get(PAGE)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 20


def test_the_page_shows_what_stands_in_its_own_unit(office, signed_in):
    set_costs(office, UAN32=("374", "ton"), NBPT25=("12.5", "lb"))
    text = signed_in(office).get(PAGE).content.decode()
    assert 'name="UAN32-amount" value="374"' in text
    assert 'name="NBPT25-amount" value="12.5"' in text


def test_a_slip_is_said_in_its_row_and_nothing_is_saved(office, signed_in):
    answer = signed_in(office).post(PAGE, typed(UAN32__amount="cheap", UAN28__amount="332"))
    assert answer.status_code == 400
    assert "Type a cost, such as 374" in answer.content.decode()
    assert not StockCost.objects.exists()


@pytest.mark.parametrize(
    ("amount", "shown"),
    [("374", "374"), ("0.1950", "0.195"), ("0", "0"), ("100", "100"), ("1.5000", "1.5")],
)
def test_a_cost_comes_back_as_it_was_typed(office, amount, shown):
    set_costs(office, UAN32=(amount, "ton"))
    row = next(row for row in CostTable(timezone.localdate()).rows if row.code == "UAN32")
    assert row.form["amount"].value() == shown


def test_stocks_without_a_cost_are_counted_and_the_blend_page_says_so(office, signed_in):
    BaseStockFactory(code="OWN", cost_per_lb=False)
    assert CostTable(timezone.localdate()).without_cost == 1
    text = signed_in(office).get("/blend/?N_min=20").content.decode()
    assert "No stock has a cost yet" in text
