"""Whether a change can be taken back, and what that would write.

Taking back writes what stood before as a new change; nothing of the log is removed. It is safe
while nobody has changed the same fields since: what came later was decided knowing this change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.roles import Role, has_role
from formulas.models import StockCost
from orders.changes.entries import COST_SETTERS, cost_before, policy_before
from orders.changes.histories import (
    UNDONE_BY_OFFICE,
    changed_fields,
    history_model,
    previous,
    tracked_models,
)
from orders.changes.lines import Line
from orders.models import PricePolicy


@dataclass(frozen=True, slots=True)
class Undoing:
    """``why_not`` is empty where the change can be taken back.

    ``before`` is the row that would stand again, ``live`` the row of the record as it is now (of a
    cost or policy: the entry itself) and ``fields`` what would be written into it.
    """

    why_not: str
    before: Any = None
    live: Any = None
    fields: tuple[Any, ...] = ()


def setters_of(source: str) -> tuple[Role, ...]:
    """Who may make such a change, and so take one back."""
    return COST_SETTERS if source == "StockCost" else (Role.OFFICE,)


def undoing(line: Line, user: User, *, lock: bool = False) -> Undoing:
    """What taking the line back would do, or why it cannot be; ``lock`` holds the record."""
    if not has_role(user, *setters_of(line.source)):
        return Undoing(_("Whoever may make this change may take it back."))
    if line.source == "StockCost":
        return _of_cost(line.pk, lock=lock)
    if line.source == "PricePolicy":
        return _of_policy(line.pk, lock=lock)
    if line.source in UNDONE_BY_OFFICE:
        model = next(each for each in tracked_models() if each.__name__ == line.source)
        return _of_row(model, line.pk, lock=lock)
    return Undoing(_("Only costs, prices, fees, freight and terms are taken back here."))


def _of_cost(pk: int, *, lock: bool) -> Undoing:
    entry = _held(StockCost.objects.select_related("stock"), pk, lock=lock)
    newer = StockCost.objects.filter(stock=entry.stock_id, pk__gt=entry.pk)
    if newer.exists():
        return Undoing(_("A newer cost of this stock was entered since."))
    before = cost_before(entry)
    if before is None:
        return Undoing(_("It was the stock's first cost; there is none to go back to."))
    return Undoing("", before=before, live=entry)


def _of_policy(pk: int, *, lock: bool) -> Undoing:
    entry = _held(PricePolicy.objects.all(), pk, lock=lock)
    if PricePolicy.objects.filter(pk__gt=entry.pk).exists():
        return Undoing(_("A newer price policy was entered since."))
    before = policy_before(entry)
    if before is None:
        return Undoing(_("It was the first price policy; there is none to go back to."))
    return Undoing("", before=before, live=entry)


def _held(rows: Any, pk: int, *, lock: bool) -> Any:
    if lock:
        rows = rows.select_for_update(of=("self",))
    return rows.get(pk=pk)


def _of_row(model: type[Any], pk: int, *, lock: bool) -> Undoing:
    rows, earlier = previous(model, [pk])
    row, before = rows[0], earlier[pk]
    if row.history_type != "~":
        return Undoing(_("Only a change is taken back, not that something was added or removed."))
    if before is None:
        return Undoing(_("What stood before is not known."))
    fields = changed_fields(model, row, before)
    if not fields:
        return Undoing(_("Nothing was changed with it."))
    live_rows = model._default_manager.all()
    if lock:
        live_rows = live_rows.select_for_update(of=("self",))
    live = live_rows.filter(pk=row.id).first()
    if live is None:
        return Undoing(_("It was removed since."))
    kept = history_model(model).objects
    since = list(kept.filter(id=row.id, history_id__gt=row.history_id))
    if _differ(fields, row, [*since, live]):
        return Undoing(_("The same was changed again since; take back or edit that."))
    if _points_nowhere(fields, before):
        return Undoing(_("What it pointed to before was removed since."))
    return Undoing("", before=before, live=live, fields=tuple(fields))


def _differ(fields: Sequence[Any], row: Any, later: Sequence[Any]) -> bool:
    names = [field.attname for field in fields]
    return any(getattr(each, name) != getattr(row, name) for each in later for name in names)


def _points_nowhere(fields: Sequence[Any], before: Any) -> bool:
    for field in fields:
        key = getattr(before, field.attname)
        if field.remote_field is None or key is None:
            continue
        if not field.remote_field.model._base_manager.filter(pk=key).exists():
            return True
    return False
