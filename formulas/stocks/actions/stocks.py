"""Changing base stocks: what they cost from a day on, whether they may be used."""

from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock, StockCost


def record_cost(
    *,
    acting_user: User,
    stock: BaseStock,
    amount: Decimal,
    unit: str,
    effective_from: date,
    note: str = "",
) -> StockCost:
    """Add a cost entry in force from a day on; earlier entries stay as they are."""
    require_role(acting_user, Role.FORMULATOR, Role.OFFICE)
    with transaction.atomic():
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


def _locked(stock: BaseStock) -> BaseStock:
    found = BaseStock.objects.select_for_update().filter(pk=stock.pk).first()
    if found is None:
        raise ChangedMeanwhile(_("This base stock was removed meanwhile."))
    return found
