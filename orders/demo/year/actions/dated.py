"""Rows that carry the times of their own past, where the database would write down today."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from typing import Any, Final, TypeVar

from django.db.models import DateTimeField, Model, QuerySet

from orders.models import NumberSeries

AT_ONCE: Final = 400

RowT = TypeVar("RowT", bound=Model)


def put_in(model: type[RowT], rows: Iterable[RowT]) -> list[RowT]:
    """Write rows with the times they were given; their own keys are known afterwards."""
    made = list(rows)
    with _own_times(model):
        model._default_manager.bulk_create(made, AT_ONCE)
    return made


def backdate(model: type[Model], ids: Iterable[int], **times: datetime) -> None:
    """Give rows that an action has just written the time they stand for in the demo's year."""
    # Past the model's own manager: of rows that are written once this is still the writing.
    QuerySet(model).filter(pk__in=list(ids)).update(**times)


def numbers(prefix: str, days: Iterable[date]) -> list[str]:
    """A running number for each day, in its year's series; real ones go on behind them."""
    given, last = [], dict[int, NumberSeries]()
    for day in days:
        if day.year not in last:
            last[day.year], _new = NumberSeries.objects.get_or_create(prefix=prefix, year=day.year)
        series = last[day.year]
        series.last += 1
        given.append(f"{prefix}-{series.year}-{series.last:04d}")
    for series in last.values():
        series.save(update_fields=["last"])
    return given


@contextmanager
def _own_times(model: type[Model]) -> Iterator[None]:
    fields: list[DateTimeField[Any, Any]] = [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, DateTimeField) and field.auto_now_add
    ]
    for field in fields:
        field.auto_now_add = False
    try:
        yield
    finally:
        for field in fields:
            field.auto_now_add = True
