"""The rows kept of records with a history: which models keep one, what differs between two rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from django.apps import apps
from django.db.models import Model, OuterRef, Subquery

#: A policy is written once: its lines are those of its rows, its history says only who.
_WRITTEN_ONCE: Final = {"PricePolicy"}


def tracked_models() -> list[type[Any]]:
    """Models with a history of edits, by name."""
    found = (each for each in apps.get_models() if _keeps_history(each))
    return sorted(found, key=lambda model: model.__name__)


def history_model(model: type[Model]) -> Any:
    return model.history.model  # type: ignore[attr-defined] # simple_history has no types


def tracked_fields(model: type[Model]) -> list[Any]:
    """The fields whose changes are told."""
    return [field for field in model._meta.concrete_fields if field.editable and not is_own(field)]


def is_own(field: Any) -> bool:
    return bool(field.primary_key or field.name in ("created_at", "created_by", "entered_at"))


def _keeps_history(model: type[Model]) -> bool:
    keeps = getattr(model._meta, "simple_history_manager_attribute", "") == "history"
    return keeps and model.__name__ not in _WRITTEN_ONCE


def previous(model: type[Any], pks: Sequence[int]) -> tuple[list[Any], dict[int, Any]]:
    """Kept rows by key with their people, and of each the one before it of the same record."""
    kept = history_model(model).objects
    earlier = kept.model.objects.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id"))
    newest = earlier.order_by("-history_id").values("history_id")[:1]
    rows = list(
        kept.filter(pk__in=pks).select_related("history_user").annotate(before=Subquery(newest))
    )
    found = kept.in_bulk([row.before for row in rows if row.before])
    return rows, {row.pk: found.get(row.before) for row in rows}


def changed_fields(model: type[Any], row: Any, before: Any) -> list[Any]:
    """The fields that differ between two kept rows of a record."""
    return [
        field
        for field in tracked_fields(model)
        if getattr(row, field.attname) != getattr(before, field.attname)
    ]
