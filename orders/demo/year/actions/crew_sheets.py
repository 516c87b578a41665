"""Crew sheets of lots that were delivered, and what crews wrote down of them."""

from __future__ import annotations

from datetime import date, time
from typing import Final

from blendshop.languages.offered import Language
from orders.crew_sheet.actions import Applied, make_sheet, write_record
from orders.crew_sheet.application import Application
from orders.demo.year import calendar
from orders.demo.year.actions.people import People
from orders.models import Batch, BatchPart, CrewSheet, Order

#: The customers whose crews have a sheet, one each; the newest lot of each is sprayed.
_SHEETS: Final = 5
_LAWNS: Final = (
    ("14 Sample Court", 8_500.0, 5.0, "clear"),
    ("3 Invented Way", 12_000.0, 7.0, "clouds"),
    ("81 Model Street", 21_780.0, 4.0, "clear, damp grass"),
)
_RATE_LB: Final = 0.6
_TANK_GAL: Final = 200.0


def add_crew_sheets(people: People, today: date) -> None:
    """Through the same actions as a person's: a sheet freezes what its lot's label says."""
    parts = BatchPart.objects.filter(
        batch__status=Batch.Status.RELEASED, order_line__order__status=Order.Status.SHIPPED
    )
    newest: dict[int, BatchPart] = {}
    for part in (
        parts.with_label()
        .select_related(
            "order_line__order__company",
            "order_line__order__ship_to",
            "order_line__revision__blend",
        )
        .order_by("-pk")[: 8 * _SHEETS]
    ):
        newest.setdefault(part.order_line.order.company_id, part)
    for number, part in enumerate(list(newest.values())[:_SHEETS]):
        sheet = _sheet(part, people, today, number)
        for at, lawn in enumerate(_LAWNS):
            _record(sheet, lawn, today, at)


def _sheet(part: BatchPart, people: People, today: date, number: int) -> CrewSheet:
    """A boom for some crews, a hand gun for the others; every second one in Spanish."""
    ship_to = part.order_line.order.ship_to
    is_boom = number % 2 == 0
    return make_sheet(
        acting_user=people.reps[0],
        line=part.order_line,
        part=part,
        key=f"demo-year-sheet-{number}",
        application=Application(
            place=f"Demo route, {ship_to.city}",
            state=ship_to.state,
            area_sqft=130_680.0,
            carrier_gal_per_1000sqft=2.0,
            tank_gal=_TANK_GAL,
            n_rate_lb_per_1000sqft=_RATE_LB,
            nozzle_count=9 if is_boom else 1,
            nozzle_spacing_in=20.0 if is_boom else None,
            speed_mph=4.0 if is_boom else None,
            seconds_per_1000sqft=None if is_boom else 75.0,
            from_on=calendar.after(today, -6),
            until_on=calendar.after(today, 4),
            language=Language.ENGLISH if is_boom else Language.SPANISH,
            note="Demo, invented.",
        ),
    )


def _record(sheet: CrewSheet, lawn: tuple[str, float, float, str], today: date, at: int) -> None:
    place, area_sqft, wind_mph, weather = lawn
    rate = sheet.crew_figures.spray.product_gal_per_1000sqft
    write_record(
        sheet=sheet,
        key=f"{sheet.key}-{at}",
        applied=Applied(
            applied_by="Demo Crew",
            applied_on=calendar.after(today, at - 5),
            start_time=time(8 + at),
            end_time=time(9 + at),
            place=place,
            customer_name="Demo owner" if at else "",
            area_sqft=area_sqft,
            amount_gal=round(area_sqft / 1000 * rate * (0.97 + 0.02 * at), 2),
            wind_mph=wind_mph,
            wind_from="SW",
            weather=weather,
            equipment="Demo sprayer",
            notes="Demo, invented.",
        ),
    )
