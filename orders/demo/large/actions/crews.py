"""Crew sheets of half of what was shipped, and what crews wrote down of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date, timedelta
from itertools import count
from typing import Any, Final

from django.utils import timezone

from blendshop.accounts.models import User
from formulas.engine.units import FL_OZ_PER_GAL
from orders.crew_sheet.application import Application, crew_figures
from orders.demo.large.actions.business import Asked
from orders.demo.large.size import PlantSize
from orders.demo.large.times import order_times
from orders.demo.year.actions.dated import put_in
from orders.frozen.crew_figures import CrewFigures
from orders.models import ApplicationRecord, CrewSheet, Order, OrderLine
from orders.records.numbering import next_numbers

AT_ONCE: Final = 1_000
_EVERY: Final = 2
_RECORDS: Final = 2
_AREA_SQFT: Final = 43_560.0
_RATE_FL_OZ: Final = 12.0


def add_crews(
    size: PlantSize, lines: Sequence[tuple[OrderLine, Asked]], rep: User, today: date
) -> None:
    """A sheet for every other shipped line, with two records each."""
    shipped = range(0, size.shipped_orders, _EVERY)
    numbers = dict(zip(shipped, next_numbers("CS", len(shipped)), strict=True))
    patterns: dict[str, CrewFigures] = {}
    keys = count()
    for start in range(0, len(shipped), AT_ONCE):
        sheets = put_in(
            CrewSheet,
            [
                _sheet(numbers[nth], nth, lines[nth], patterns, rep, today)
                for nth in shipped[start : start + AT_ONCE]
            ],
        )
        ApplicationRecord.objects.bulk_create(_records(sheets, keys))


def _sheet(
    number: str,
    order_number: int,
    asked_line: tuple[OrderLine, Asked],
    patterns: dict[str, CrewFigures],
    rep: User,
    today: date,
) -> CrewSheet:
    """With the figures of the first sheet of its kind, under its own blend's name."""
    line, asked = asked_line
    order = line.order
    left = order_times(order_number, order.due_on, Order.Status(order.status), today).left
    first = timezone.localdate(left)
    application = Application(
        place="Demo Lane",
        state=asked.place.state,
        area_sqft=_AREA_SQFT,
        carrier_gal_per_1000sqft=1.0,
        tank_gal=200.0,
        from_on=first,
        until_on=first + timedelta(days=10),
        product_fl_oz_per_1000sqft=_RATE_FL_OZ,
    )
    kind = asked.recipe.kind.revision.blend.name
    if kind not in patterns:
        patterns[kind] = crew_figures(line, None, application)
    typed: dict[str, Any] = asdict(application)
    return CrewSheet(
        number=number,
        key=f"large-{number}",
        company_id=order.company_id,
        order_line=line,
        figures=patterns[kind].to_json() | {"product_name": asked.recipe.name},
        made_by=rep,
        made_at=left,
        **typed,
    )


def _records(sheets: Sequence[CrewSheet], keys: Iterator[int]) -> Iterator[ApplicationRecord]:
    for sheet in sheets:
        figures = sheet.crew_figures
        for nth in range(_RECORDS):
            yield ApplicationRecord(
                key=f"large-crew-{next(keys)}",
                who="Demo-Crew",
                at=sheet.made_at + timedelta(days=nth + 1),
                company_id=sheet.company_id,
                sheet=sheet,
                state=sheet.state,
                product=figures.product_name,
                analysis=figures.grade,
                density_lb_per_gal=figures.density_lb_per_gal,
                place=sheet.place,
                applied_by="Demo-Crew",
                applied_on=sheet.from_on + timedelta(days=nth + 1),
                area_sqft=_AREA_SQFT / _RECORDS,
                rate_fl_oz_per_1000sqft=_RATE_FL_OZ,
                amount_gal=_AREA_SQFT / _RECORDS / 1_000 * _RATE_FL_OZ / FL_OZ_PER_GAL,
            )
