"""Costs of many stocks at once: what is shipped comes in with its first cost."""

from datetime import date
from decimal import Decimal

import pytest
from django.utils import timezone

from blendshop.errors import BadInput, NotAllowed
from formulas import reference
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock, CompatibilityRule, StockCost
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from formulas.stocks.cost_table import CostTable
from tests.factories import BaseStockFactory

pytestmark = pytest.mark.django_db

DAY = date(2026, 3, 1)
PAGE = "/stocks/costs/"


def set_costs(by, **costs):
    prices = {code: StockPrice(Decimal(amount), unit) for code, (amount, unit) in costs.items()}
    return set_stock_costs(acting_user=by, costs=prices, effective_from=DAY)


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
