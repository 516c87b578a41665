"""Changing stocks: who may, what is refused, one row of history each."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.models import BaseStock, StockCost
from formulas.stocks.actions.stocks import mark_short, record_cost, retire_stock, return_stock
from tests.factories import BaseStockFactory

DAY = date(2026, 6, 1)


@pytest.fixture
def stock(db: None) -> BaseStock:
    found: BaseStock = BaseStockFactory(code="A")
    return found


def cost(**changes: Any) -> dict[str, Any]:
    return {"amount": Decimal("318.00"), "unit": "ton", "effective_from": DAY, **changes}


def test_a_cost_is_added_and_the_earlier_one_stays(stock: BaseStock, office: User) -> None:
    entry = record_cost(acting_user=office, stock=stock, note="spring list", **cost())
    assert (entry.entered_by, entry.note) == (office, "spring list")
    assert stock.costs.count() == 2
    entry.amount = Decimal(1)
    with pytest.raises(WrittenOnce):
        entry.save()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"amount": Decimal(-1)}, "entry"),
        ({"amount": Decimal("NaN")}, "amount"),
        ({"amount": Decimal("1.00001")}, "amount"),
        ({"unit": "tonne"}, "unit"),
        ({"note": "x" * 201}, "note"),
    ],
)
def test_a_wrong_cost_is_refused_at_its_field(
    stock: BaseStock, formulator: User, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        record_cost(acting_user=formulator, stock=stock, **cost(**changes))
    assert field in refused.value.fields
    assert stock.costs.count() == 1


def test_retiring_and_returning_write_one_row_of_history_each(
    stock: BaseStock, formulator: User
) -> None:
    before = stock.history.count()
    retired = retire_stock(acting_user=formulator, stock=stock, on=DAY)
    assert retired.retired_on == DAY
    with pytest.raises(IllegalMove, match="retired since 2026-06-01"):
        retire_stock(acting_user=formulator, stock=stock, on=DAY)
    assert return_stock(acting_user=formulator, stock=stock).is_active
    with pytest.raises(IllegalMove):
        return_stock(acting_user=formulator, stock=stock)
    assert stock.history.count() == before + 2
    assert stock.history.first().history_user == formulator


def test_saying_short_twice_changes_nothing_the_second_time(
    stock: BaseStock, plant_worker: User
) -> None:
    before = stock.history.count()
    assert mark_short(acting_user=plant_worker, stock=stock, short=True).short
    mark_short(acting_user=plant_worker, stock=stock, short=True)
    assert stock.history.count() == before + 1
    assert not mark_short(acting_user=plant_worker, stock=stock, short=False).short


ACTIONS: dict[str, Callable[[User, BaseStock], Any]] = {
    "cost": lambda user, stock: record_cost(acting_user=user, stock=stock, **cost()),
    "retire": lambda user, stock: retire_stock(acting_user=user, stock=stock, on=DAY),
    "short": lambda user, stock: mark_short(acting_user=user, stock=stock, short=True),
}
ALLOWED = {
    "cost": {"formulator", "office"},
    "retire": {"formulator"},
    "short": {"formulator", "plant_worker"},
}


@pytest.mark.parametrize("action", ACTIONS)
@pytest.mark.parametrize("person", ["rep", "customer", "plant_worker", "formulator", "office"])
def test_only_the_roles_of_the_action_may_do_it(
    request: pytest.FixtureRequest, stock: BaseStock, action: str, person: str
) -> None:
    user = request.getfixturevalue(person)
    histories, costs = stock.history.count(), StockCost.objects.count()
    if person in ALLOWED[action]:
        ACTIONS[action](user, stock)
        assert (stock.history.count(), StockCost.objects.count()) != (histories, costs)
    else:
        with pytest.raises(NotAllowed):
            ACTIONS[action](user, stock)
        assert (stock.history.count(), StockCost.objects.count()) == (histories, costs)
