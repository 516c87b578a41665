"""Writing down new costs, and putting them in force."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock
from formulas.stocks.actions.shipped import StockPrice, set_stock_costs
from orders.models import ChangedCost, CostChange

#: Who writes new costs down and puts them in force; whoever sees costs may look at what they do.
CHANGES_COSTS: Final = (Role.FORMULATOR, Role.OFFICE)


@dataclass(frozen=True, slots=True)
class NewCost:
    """What one stock would cost: dollars in a unit of ``CostUnit``; ``by_pct`` if so said."""

    amount: Decimal
    unit: str
    by_pct: Decimal | None = None


def write_down_costs(
    *,
    acting_user: User,
    name: str,
    costs: Mapping[str, NewCost],
    change: CostChange | None = None,
    seen_version: int | None = None,
) -> CostChange:
    """New costs by stock code under a name, or other ones in place of those of ``change``.

    Nothing of it is in force. BadInput without a cost or for an unknown stock; ChangedMeanwhile
    where somebody changed them after ``seen_version``.
    """
    require_role(acting_user, *CHANGES_COSTS)
    if not costs:
        raise BadInput(_("Give at least one new cost."))
    stocks = {
        row.code: row for row in BaseStock.objects.filter(code__in=costs).prefetch_related("costs")
    }
    if unknown := sorted(costs.keys() - stocks.keys()):
        raise BadInput(_("There is no stock {codes}.").format(codes=", ".join(unknown)))
    today = timezone.localdate()
    with transaction.atomic():
        if change is None:
            change = save_valid(CostChange(name=name.strip(), created_by=acting_user), acting_user)
        else:
            _change(change, name, acting_user, seen_version)
        for code, cost in costs.items():
            was = stocks[code].cost_on(today)
            save_valid(
                ChangedCost(
                    change=change,
                    stock=stocks[code],
                    amount=cost.amount,
                    unit=cost.unit,
                    by_pct=cost.by_pct,
                    was_amount=None if was is None else was.amount,
                    was_unit="" if was is None else was.unit,
                ),
                acting_user,
            )
    return change


def put_in_force(
    *, acting_user: User, change: CostChange, on: date, sure_of: str = ""
) -> CostChange:
    """From ``on`` (today or later) the stocks cost this; everything open is repriced behind it.

    All of it or nothing, and once. LargeCostMoves where ``sure_of`` confirms not what moves far.
    """
    require_role(acting_user, *CHANGES_COSTS)
    if on < timezone.localdate():
        message = _("Costs come in force today or later.")
        raise BadInput(message, fields={"on": message})
    with transaction.atomic():
        taken = CostChange.objects.filter(
            pk=change.pk, version=change.version, in_force_on__isnull=True
        ).update(in_force_on=on, put_in_force_by=acting_user, put_in_force_at=timezone.now())
        if not taken:
            change.refresh_from_db()
            if change.in_force_on is None:
                raise ChangedMeanwhile(_("Somebody changed these costs meanwhile; look again."))
            raise IllegalMove(
                _("These costs are in force from {day} already.").format(
                    day=change.in_force_on.isoformat()
                )
            )
        set_stock_costs(
            acting_user=acting_user,
            costs={
                cost.stock.code: StockPrice(cost.amount, cost.unit)
                for cost in change.costs.select_related("stock")
            },
            effective_from=on,
            sure_of=sure_of,
        )
    change.refresh_from_db()
    return change


def _change(change: CostChange, name: str, acting_user: User, seen_version: int | None) -> None:
    seen = change.version if seen_version is None else seen_version
    waiting = CostChange.objects.filter(pk=change.pk, in_force_on__isnull=True, version=seen)
    if not waiting.update(version=F("version") + 1):
        change.refresh_from_db()
        if change.in_force_on is not None:
            raise IllegalMove(_("These costs are in force; write down new ones."))
        raise ChangedMeanwhile(_("Somebody changed these costs meanwhile; look again."))
    change.refresh_from_db()
    change.name = name.strip()
    save_valid(change, acting_user, update_fields=["name"])
    change.costs.all().delete()
