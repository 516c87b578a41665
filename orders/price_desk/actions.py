"""Writing the tables a price is made from; quotes that are out keep their figures."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from blendshop.accounts.models import User
from blendshop.roles import Role, require_role
from blendshop.saving import name_in_history, save_valid
from orders.models import FreightZone, PricePolicy, PriceTier, QuantityBreak, StateFee
from orders.price_desk.fee_marks import fee_mark


def save_prices(
    *,
    acting_user: User,
    policy: PricePolicy | None,
    rows: Collection[PriceTier | QuantityBreak | StateFee | FreightZone],
    removed: Collection[QuantityBreak] = (),
) -> None:
    """All of it or nothing: a policy of a day (written once), rows new or changed, breaks removed.

    BadInput names what a table does not take.
    """
    require_role(acting_user, Role.OFFICE)
    with transaction.atomic():
        for gone in removed:
            name_in_history(gone, acting_user)
            gone.delete()
        if policy is not None:
            save_valid(policy, acting_user)
        # Of two tiers the one that is no longer the usual one first.
        for row in sorted(rows, key=lambda row: getattr(row, "is_default", False)):
            if isinstance(row, StateFee):
                row.mark = fee_mark(row.state, row.fee_per_ton, row.citation)
            save_valid(row, acting_user)
