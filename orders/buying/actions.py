"""Writing what suppliers ask for, what was ordered from them, and how much there is room for."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import Role, require_role
from blendshop.saving import name_in_history, save_valid
from formulas.models import BaseStock
from orders.models import StockPurchase, StockStorage, SupplierTerms

#: Who buys, and sees what it costs.
BUYERS: Final = (Role.OFFICE, Role.FORMULATOR)


def save_supplier_terms(
    *,
    acting_user: User,
    rows: Collection[SupplierTerms],
    removed: Collection[SupplierTerms] = (),
) -> None:
    """All of it or nothing; BadInput names what a row does not take."""
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        for gone in removed:
            name_in_history(gone, acting_user)
            gone.delete()
        # Of two suppliers the one that is no longer the preferred one first.
        for row in sorted(rows, key=lambda row: row.preferred):
            save_valid(row, acting_user)


def write_down_purchase(
    *,
    acting_user: User,
    stock: BaseStock,
    supplier: str,
    lb: Decimal,
    expected_on: date,
    key: str,
    note: str = "",
) -> StockPurchase:
    """What was ordered today; with the same ``key`` again it is the same purchase."""
    require_role(acting_user, *BUYERS)
    if not key.strip():
        raise BadInput(_("The form is incomplete; open the page again."))
    if done := StockPurchase.objects.filter(key=key).first():
        return done
    _require_to_come(expected_on)
    with transaction.atomic():
        return save_valid(
            StockPurchase(
                stock=stock,
                supplier=supplier,
                lb=lb,
                expected_on=expected_on,
                note=note,
                made_by=acting_user,
                key=key,
            ),
            acting_user,
        )


def change_purchase(
    *, acting_user: User, purchase: StockPurchase, lb: Decimal, expected_on: date, note: str = ""
) -> StockPurchase:
    """The supplier says another day or weight."""
    require_role(acting_user, *BUYERS)
    with transaction.atomic():
        found = _on_the_way(purchase)
        if expected_on != found.expected_on:
            _require_to_come(expected_on)
        found.lb, found.expected_on, found.note = lb, expected_on, note
        return save_valid(found, acting_user)


def call_off_purchase(*, acting_user: User, purchase: StockPurchase) -> None:
    """It will not come."""
    require_role(acting_user, *BUYERS)
    with transaction.atomic():
        found = _on_the_way(purchase)
        found.called_off_at = timezone.now()
        save_valid(found, acting_user)


def save_storage(*, acting_user: User, stock: BaseStock, most_lb: Decimal | None) -> None:
    """How much of a stock there is room for; None: not known."""
    require_role(acting_user, *BUYERS)
    with transaction.atomic():
        row = StockStorage.objects.select_for_update().filter(stock=stock).first()
        if most_lb is not None:
            row = row or StockStorage(stock=stock)
            row.most_lb = most_lb
            save_valid(row, acting_user)
        elif row is not None:
            name_in_history(row, acting_user)
            row.delete()


def _on_the_way(purchase: StockPurchase) -> StockPurchase:
    """The row locked; IllegalMove in a sentence once it has ended."""
    found = StockPurchase.objects.select_for_update(of=("self",)).get(pk=purchase.pk)
    if found.received_as is not None:
        raise IllegalMove(_("It came already, as {lot}.").format(lot=found.received_as))
    if found.called_off_at is not None:
        raise IllegalMove(_("It was called off."))
    return found


def _require_to_come(expected_on: date) -> None:
    if expected_on < timezone.localdate():
        told = _("This day is over; a delivery that came is received as a lot.")
        raise BadInput(told, fields={"expected_on": told})
