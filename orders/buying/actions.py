"""Writing what suppliers ask for."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from blendshop.accounts.models import User
from blendshop.roles import Role, require_role
from blendshop.saving import name_in_history, save_valid
from orders.models import SupplierTerms


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
