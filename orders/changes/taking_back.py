"""Whether a change can be taken back, and what that would write.

Taking back writes what stood before as a new change; nothing of the log is removed. When it is
safe, ``safe_since`` says.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.roles import Role, has_role
from formulas.models import BaseStock, StockCost
from formulas.stocks.actions.stocks import hold_stocks
from orders.changes.entries import (
    COST_SETTERS,
    cost_before,
    cost_stays,
    policy_before,
    policy_stays,
)
from orders.changes.lines import Line
from orders.changes.records import changed_fields, previous, tracked_models
from orders.changes.safe_since import OF_STOCKS, SETTERS, traits_of, why_not
from orders.models import PricePolicy


@dataclass(frozen=True, slots=True)
class Undoing:
    """``why_not`` is empty where the change can be taken back.

    ``before`` is the row that would stand again, ``live`` the row of the record as it is now (of a
    cost or policy: the entry itself) and ``fields`` what would be written into it; ``traits`` are
    the keys of those a stock would have again, None where they stay.
    """

    why_not: str
    before: Any = None
    live: Any = None
    fields: tuple[Any, ...] = ()
    traits: frozenset[int] | None = None


def setters_of(source: str) -> tuple[Role, ...]:
    """Who may make such a change, and so take one back."""
    if source == "StockCost":
        return COST_SETTERS
    return (SETTERS.get(source, Role.OFFICE),)


def undoing(line: Line, user: User, *, lock: bool = False) -> Undoing:
    """What taking the line back would do, or why it cannot be; ``lock`` holds the record."""
    if not has_role(user, *setters_of(line.source)):
        return Undoing(_("Whoever may make this change may take it back."))
    if line.source == "StockCost":
        return _of_cost(line.pk, lock=lock)
    if line.source == "PricePolicy":
        return _of_policy(line.pk, lock=lock)
    if line.source in SETTERS:
        model = next(each for each in tracked_models() if each.__name__ == line.source)
        return _of_row(model, line.pk, lock=lock)
    return Undoing(_("It is not taken back here; change it again on its own page."))


def _of_cost(pk: int, *, lock: bool) -> Undoing:
    entry = _held(StockCost.objects.select_related("stock"), pk, lock=lock)
    newer = StockCost.objects.filter(stock=entry.stock_id, pk__gt=entry.pk)
    before = cost_before(entry)
    told = cost_stays(has_newer=newer.exists(), before=before)
    return Undoing(told, before=before, live=entry)


def _of_policy(pk: int, *, lock: bool) -> Undoing:
    entry = _held(PricePolicy.objects.all(), pk, lock=lock)
    newer = PricePolicy.objects.filter(pk__gt=entry.pk)
    before = policy_before(entry)
    told = policy_stays(has_newer=newer.exists(), before=before)
    return Undoing(told, before=before, live=entry)


def _held(rows: Any, pk: int, *, lock: bool) -> Any:
    if lock:
        rows = rows.select_for_update(of=("self",))
    return rows.get(pk=pk)


def _of_row(model: type[Any], pk: int, *, lock: bool) -> Undoing:
    rows, earlier = previous(model, [pk])
    row, before = rows[0], earlier[pk]
    live_rows = model._default_manager.all()
    if lock:
        if model.__name__ in OF_STOCKS:
            hold_stocks()
        # Not the key: what points to the record, as a new cost or order does, need not wait.
        live_rows = live_rows.select_for_update(of=("self",), no_key=True)
    # Held first, then asked: what somebody else was writing is seen.
    live = live_rows.filter(pk=row.id).first()
    if told := why_not(model, rows, earlier).get(pk):
        return Undoing(told)
    fields = tuple(changed_fields(model, row, before))
    traits = traits_of([row, before]) if model is BaseStock else {}
    moved = bool(traits) and traits[row.pk] != traits[before.pk]
    again = traits[before.pk] if moved else None
    return Undoing("", before=before, live=live, fields=fields, traits=again)
