"""Changing base stocks: what they cost from a day on, whether they may be used."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock, StockCost
from formulas.repricing.standing import costs_changed
from formulas.stocks.cost_moves import ask_about, cost_move


def record_cost(
    *,
    acting_user: User,
    stock: BaseStock,
    amount: Decimal,
    unit: str,
    effective_from: date,
    note: str = "",
    sure_of: str = "",
) -> StockCost:
    """Add a cost entry in force from a day on; earlier entries stay as they are.

    What it changes of saved blends and open quotes is worked out behind it. LargeCostMoves where it
    moves far and ``sure_of`` does not confirm it.
    """
    require_role(acting_user, Role.FORMULATOR, Role.OFFICE)
    with transaction.atomic():
        stands = stock.cost_on(effective_from)
        written = write_cost(
            acting_user=acting_user,
            stock=stock,
            amount=amount,
            unit=unit,
            effective_from=effective_from,
            note=note,
        )
        ask_about([cost_move(stock, stands, amount, unit)], sure_of)
        costs_changed.send(StockCost, asked_by=acting_user)
    return written


def write_cost(
    *,
    acting_user: User,
    stock: BaseStock,
    amount: Decimal,
    unit: str,
    effective_from: date,
    note: str = "",
) -> StockCost:
    """One entry of an action that writes many, and tells of them once."""
    return save_valid(
        StockCost(
            stock=stock,
            amount=amount,
            unit=unit,
            effective_from=effective_from,
            note=note,
            entered_by=acting_user,
        ),
        acting_user,
    )


def retire_stock(*, acting_user: User, stock: BaseStock, on: date) -> BaseStock:
    """Take a stock out of new blends for good; saved blends keep naming it."""
    require_role(acting_user, Role.FORMULATOR)
    with transaction.atomic():
        current = _locked(stock)
        if current.retired_on is not None:
            raise IllegalMove(
                _("{name} is retired since {retired_on}.").format(
                    name=current.name, retired_on=current.retired_on.isoformat()
                )
            )
        current.retired_on = on
        return save_valid(current, acting_user, update_fields=["retired_on"])


def return_stock(*, acting_user: User, stock: BaseStock) -> BaseStock:
    """Let a retired stock into new blends again."""
    require_role(acting_user, Role.FORMULATOR)
    with transaction.atomic():
        current = _locked(stock)
        if current.retired_on is None:
            raise IllegalMove(_("{name} is not retired.").format(name=current.name))
        current.retired_on = None
        return save_valid(current, acting_user, update_fields=["retired_on"])


def mark_short(*, acting_user: User, stock: BaseStock, short: bool) -> BaseStock:
    """Say that a stock has run out for now, or is back; saying it twice changes nothing."""
    require_role(acting_user, Role.FORMULATOR, Role.PLANT)
    with transaction.atomic():
        current = _locked(stock)
        if current.short == short:
            return current
        current.short = short
        return save_valid(current, acting_user, update_fields=["short"])


@contextmanager
def traits_kept_as_one_change(stock: BaseStock) -> Iterator[None]:
    """Traits set in it leave no row of the history by themselves: the stock is saved after it.

    Else one removed and one added are two changes, and neither is taken back without the other.
    """
    quiet: Any = stock  # what simple_history reads on a record is no field of it
    quiet.skip_history_when_saving = True
    try:
        yield
    finally:
        del quiet.skip_history_when_saving


def hold_stocks() -> None:
    """Hold every stock until the end of the transaction, before any of them is written.

    The first one written takes the catalogue's version with it; who holds that must not wait for
    a stock of somebody who waits for the version.
    """
    list(BaseStock.objects.select_for_update(no_key=True).order_by("pk").values_list("pk"))


def _locked(stock: BaseStock) -> BaseStock:
    # Not the key: a new cost, which points to it, need not wait. It may hold the version of the
    # catalogue, which we are going to write.
    found = BaseStock.objects.select_for_update(no_key=True).filter(pk=stock.pk).first()
    if found is None:
        raise ChangedMeanwhile(_("This base stock was removed meanwhile."))
    return found
