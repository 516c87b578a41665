"""The shipped stocks: loading them asks and checks for a second of processor time."""

import datetime as dt
from collections.abc import Callable
from functools import cache
from typing import Final

from blendshop.accounts.models import User
from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs
from tests.remembered_rows import RememberedRows

#: Prices and the plant's name differ from test to test and matter to no stock.
_APPS: Final = frozenset({"formulas"})


def _load_stocks(maker: User) -> None:
    load_base_stocks(acting_user=maker)


@cache
def _with_costs(effective_from: dt.date) -> Callable[[User], None]:
    def load(maker: User) -> None:
        load_base_stocks(acting_user=maker)
        load_demo_costs(acting_user=maker, effective_from=effective_from)

    return RememberedRows(load, apps=_APPS)


_STOCKS: Final = RememberedRows(_load_stocks, apps=_APPS)


def put_in_shipped_stocks(maker: User) -> None:
    """Stocks, traits, rules and their history as ``maker`` loaded them."""
    _STOCKS(maker)


def put_in_demo_stocks(maker: User, effective_from: dt.date = dt.date(2020, 1, 1)) -> None:
    """The shipped stocks and the demo's costs of them."""
    _with_costs(effective_from)(maker)
