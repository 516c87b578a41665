"""The demo's stocks with their costs: loading them asks and checks for a second of CPU."""

import datetime as dt
from typing import Final

from blendshop.accounts.models import User
from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs
from tests.remembered_rows import RememberedRows


def _load(maker: User) -> None:
    load_base_stocks(acting_user=maker)
    load_demo_costs(acting_user=maker, effective_from=dt.date(2020, 1, 1))


_DEMO_STOCKS: Final = RememberedRows(_load)


def load_demo_stocks(maker: User) -> None:
    """Stocks, traits, rules, costs and their history as ``maker`` loaded them."""
    _DEMO_STOCKS(maker)
