"""Why edits of records cannot be taken back, of many at once: the list and the asking page say it.

Taking back is safe while nobody has changed the same fields since, and while nothing was made that
the changed figures are frozen into: what came later was decided knowing this change.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import chain
from typing import Any, Final

from django.apps import apps
from django.db.models import Max
from django.utils.translation import gettext as _

from blendshop.roles import Role
from formulas.models import BaseStock, Trait
from orders.changes.records import changed_fields, history_model
from orders.models import Batch, StockMovement, Tank

#: Whose edits may be taken back, and who may: whoever sets them.
SETTERS: Final[Mapping[str, Role]] = {
    "PriceTier": Role.OFFICE,
    "QuantityBreak": Role.OFFICE,
    "Package": Role.OFFICE,
    "StateFee": Role.OFFICE,
    "FreightZone": Role.OFFICE,
    "Truck": Role.OFFICE,
    "CustomerTerms": Role.OFFICE,
    "Tank": Role.OFFICE,
    "BaseStock": Role.FORMULATOR,
    "AnalysisFigure": Role.FORMULATOR,
    "MetalFigure": Role.FORMULATOR,
    "CompatibilityRule": Role.FORMULATOR,
}
#: Of the catalogue: its rows are held in one order, see ``formulas.stocks.actions.stocks``.
OF_STOCKS: Final = frozenset({"BaseStock", "AnalysisFigure", "MetalFigure"})
#: What a plan, a label or a certificate takes over from a stock, and stays as it was made.
_FROZEN_OF_STOCK: Final = frozenset(
    {
        "code",
        "derived_from",
        "other_origin",
        "density_lb_per_gal",
        "density_temp_f",
        "solutes",
        "salt_index",
        "scale_step_lb",
    }
)
#: What of a tank no plan takes over.
_FREE_OF_TANK: Final = frozenset({"name", "loads_a_day", "active"})


def not_here(setter: Role | None) -> str:
    """Why somebody who does not set it finds no button."""
    if setter is None:
        return _("Set on its own page.")
    whose = {Role.OFFICE: _("The office takes it back.")}
    return whose.get(setter, _("A formulator takes it back."))


def why_not(model: type[Any], rows: Sequence[Any], before: Mapping[int, Any]) -> Mapping[int, str]:
    """By the kept row's key why its edit cannot be taken back; only where it cannot.

    A fixed number of queries, whatever the number of rows, but for what foreign keys point to.
    """
    if not rows:
        return {}
    later = _later(model, rows)
    live = model._base_manager.in_bulk({row.id for row in rows})
    taken_over = _last_taken_over(model, rows)
    kept = [*rows, *filter(None, before.values()), *chain.from_iterable(later.values())]
    traits = traits_of(kept) if model is BaseStock else {}
    found = {}
    for row in rows:
        old = before[row.pk]
        if row.history_type != "~":
            found[row.pk] = _(
                "Only a change is taken back, not that something was added or removed."
            )
        elif old is None:
            found[row.pk] = _("What stood before is not known.")
        elif told := _why_not(model, row, old, live.get(row.id), later[row.id], taken_over, traits):
            found[row.pk] = told
    return found


def _why_not(
    model: type[Any],
    row: Any,
    old: Any,
    live: Any,
    later: Sequence[Any],
    taken_over: Mapping[int, datetime],
    traits: Mapping[int, frozenset[int]],
) -> str:
    fields = changed_fields(model, row, old)
    moved = bool(traits) and traits[row.pk] != traits[old.pk]
    if not fields and not moved:
        return _("Nothing was changed with it.")
    if live is None:
        return _("It was removed since.")
    since = [each for each in later if each.history_id > row.history_id]
    if _differ(fields, row, [*since, live]) or (moved and _moved_again(row, since, traits)):
        return _("The same was changed again since; take back or edit that.")
    if _points_nowhere(fields, old) or (moved and not _all_there(traits[old.pk])):
        return _("What it pointed to before was removed since.")
    names = {field.name for field in fields}
    if model.__name__ in OF_STOCKS:
        last = taken_over.get(_stock_of(row))
        # Traits decide what may meet what: a load made since was planned by them.
        is_frozen = model is not BaseStock or moved or bool(names & _FROZEN_OF_STOCK)
        if is_frozen and last is not None and last > row.history_date:
            return _("A batch was charged with it since, and what was made stands on this figure.")
    if model is Tank and names - _FREE_OF_TANK:
        last = taken_over.get(row.id)
        if last is not None and last > row.history_date:
            return _("A load was planned into the tank since, on these figures.")
    return ""


def traits_of(rows: Sequence[Any]) -> dict[int, frozenset[int]]:
    """The keys of the traits of kept stocks, by the kept row's key; one query."""
    kept = apps.get_model("formulas", "HistoricalBaseStock_traits").objects
    found: dict[int, set[int]] = {row.pk: set() for row in rows}
    for history, trait in kept.filter(history__in=found).values_list("history", "trait"):
        found[history].add(trait)
    return {key: frozenset(some) for key, some in found.items()}


def _moved_again(row: Any, since: Sequence[Any], traits: Mapping[int, frozenset[int]]) -> bool:
    """A kept row is written with every change of traits: the last one is how they stand."""
    return any(traits[each.pk] != traits[row.pk] for each in since)


def _all_there(traits: frozenset[int]) -> bool:
    return Trait.objects.filter(pk__in=traits).count() == len(traits)


def _later(model: type[Any], rows: Sequence[Any]) -> Mapping[int, list[Any]]:
    """Kept rows of the same records since the first of these."""
    first = min(row.history_id for row in rows)
    kept = history_model(model).objects.filter(
        id__in={row.id for row in rows}, history_id__gt=first
    )
    found = defaultdict(list)
    for each in kept:
        found[each.id].append(each)
    return found


def _last_taken_over(model: type[Any], rows: Sequence[Any]) -> Mapping[int, datetime]:
    """When something was last made with a stock, or planned into a tank, since these edits."""
    since = min(row.history_date for row in rows)
    if model.__name__ in OF_STOCKS:
        uses = StockMovement.objects.filter(
            batch__isnull=False,
            kind=StockMovement.Kind.USED,
            at__gt=since,
            lot__stock__in={_stock_of(row) for row in rows},
        )
        return dict(uses.order_by().values_list("lot__stock").annotate(Max("at")))
    if model is Tank:
        loads = Batch.objects.live().filter(tank__in={row.id for row in rows}, created_at__gt=since)
        return dict(loads.order_by().values_list("tank").annotate(Max("created_at")))
    return {}


def _stock_of(row: Any) -> int:
    key: int = getattr(row, "stock_id", None) or row.id
    return key


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
