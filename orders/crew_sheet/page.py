"""A crew sheet as phone and paper show it: the same figures in the same words.

Order of filling: some of the water, agitation, product, rest of the water (general rules of the
Manitoba Guide to Crop Protection, as the Canola Council reports them: a quarter to three quarters
of the water first; University of Arizona, Order in the Tank, May 1999: a jar before a mix).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.figures.readers import reader
from formulas.engine.field.nozzle_check import (
    NozzleCheck,
    OunceCourse,
    boom_check,
    gun_check,
    ounce_course,
)
from formulas.engine.field.tank_loads import TankLoad, TankLoads, tank_loads
from formulas.engine.units import L_PER_GAL
from formulas.reference.application_records import RecordDuty, record_duties
from orders.crew_sheet import both_units
from orders.crew_sheet.both_units import Both
from orders.crew_sheet.crew_cautions import CrewCaution, crew_cautions
from orders.frozen.crew_figures import CrewFigures
from orders.models import CrewSheet
from orders.recall.customer_words import customer_words

#: Of the water that goes in before the product; a quarter to three quarters are usual.
_FIRST_WATER: Final = 0.5
#: Exact: NIST Special Publication 811 (2008), appendix B.
_CM_PER_IN: Final = 2.54
_KM_PER_MILE: Final = 1.609344
#: Cups a phone has room for; a longer boom is caught in parts.
_MOST_CUPS: Final = 60


@dataclass(frozen=True, slots=True)
class Line:
    """One figure with its name; ``is_main`` is read from afar."""

    name: str
    figure: Both
    is_main: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One step of filling the tank; without a figure where there is nothing to measure."""

    text: str
    figure: Both | None = None


@dataclass(frozen=True, slots=True)
class Filling:
    """How a tank is filled; ``title`` says which."""

    title: str
    covers: Both
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Cups:
    """What a phone holds the cups under the nozzles against; fluid ounces in the time of the check.

    ``numbers`` are those of the nozzles, ``carrier_gal_per_1000sqft`` what the target gives.
    """

    numbers: range
    least_fl_oz: float
    most_fl_oz: float
    target_fl_oz: float
    carrier_gal_per_1000sqft: float
    litres_per_100_m2_per_gal: float


@dataclass(frozen=True, slots=True)
class SheetPage:
    """All a sheet says, in the language and figures of who reads.

    ``recalled`` are the words for customers while the lot is called back.
    """

    sheet: CrewSheet
    figures: CrewFigures
    dates: str
    rates: tuple[Line, ...]
    whole: tuple[Line, ...]
    fillings: tuple[Filling, ...]
    nozzle: tuple[Line, ...]
    nozzle_words: tuple[str, ...]
    cups: Cups | None
    cautions: tuple[CrewCaution, ...]
    recalled: tuple[str, ...]
    duty: RecordDuty | None
    amount_gal: float


def sheet_page(sheet: CrewSheet) -> SheetPage:
    """Worked out from the sheet's frozen figures; cautions of the blend are those of today."""
    figures, spray = sheet.crew_figures, sheet.crew_figures.spray
    loads = tank_loads(
        area_sqft=sheet.area_sqft,
        tank_gal=sheet.tank_gal,
        product_gal_per_1000sqft=spray.product_gal_per_1000sqft,
        carrier_gal_per_1000sqft=spray.carrier_gal_per_1000sqft,
    )
    return SheetPage(
        sheet=sheet,
        figures=figures,
        dates=_dates(sheet),
        rates=(
            Line(
                _("Product"), both_units.product_rate(spray.product_gal_per_1000sqft), is_main=True
            ),
            Line(
                _("Spray, product and water"),
                both_units.spray_rate(spray.carrier_gal_per_1000sqft),
                is_main=True,
            ),
            Line(_("Nitrogen"), both_units.nitrogen_rate(spray.n_lb_per_1000sqft)),
            Line(_("One full tank covers"), both_units.area(loads.full.area_sqft)),
        ),
        whole=(
            Line(_("Area"), both_units.area(sheet.area_sqft)),
            Line(_("Product for all of it"), both_units.volume(loads.product_gal)),
        ),
        fillings=tuple(_fillings(sheet, loads)),
        nozzle=tuple(_nozzle(sheet)),
        nozzle_words=tuple(_nozzle_words(sheet)),
        cups=_cups(sheet),
        cautions=crew_cautions(sheet),
        recalled=customer_words(sheet.part.batch_id) if sheet.part else (),
        duty=record_duties().get(sheet.state),
        amount_gal=loads.product_gal,
    )


def _dates(sheet: CrewSheet) -> str:
    first, last = reader().date(sheet.from_on), reader().date(sheet.until_on)
    if sheet.from_on == sheet.until_on:
        return first
    return _("{first} to {last}").format(first=first, last=last)


def _fillings(sheet: CrewSheet, loads: TankLoads) -> Iterator[Filling]:
    if loads.full_tanks:
        size = both_units.volume(sheet.tank_gal)
        title = ngettext(
            "Full tank, {us} ({metric}): {count} time",
            "Full tank, {us} ({metric}): {count} times",
            loads.full_tanks,
        ).format(us=size.us, metric=size.metric, count=loads.full_tanks)
        yield Filling(title, both_units.area(loads.full.area_sqft), _steps(loads.full))
    if loads.last:
        words = (
            _("Last tank, {us} ({metric})") if loads.full_tanks else _("One tank, {us} ({metric})")
        )
        size = both_units.volume(loads.last.spray_gal)
        title = words.format(us=size.us, metric=size.metric)
        yield Filling(title, both_units.area(loads.last.area_sqft), _steps(loads.last))


def _steps(load: TankLoad) -> tuple[Step, ...]:
    first = load.water_gal * _FIRST_WATER
    return (
        Step(_("Half of the water first"), both_units.volume(first)),
        Step(_("Start the agitation and leave it on")),
        Step(_("Product"), both_units.volume(load.product_gal)),
        Step(_("Rest of the water"), both_units.volume(load.water_gal - first)),
        Step(_("Agitate while you spray; leave none in the tank overnight")),
    )


def _check_of(sheet: CrewSheet) -> NozzleCheck | None:
    carrier = sheet.carrier_gal_per_1000sqft
    if sheet.nozzle_spacing_in and sheet.speed_mph:
        return boom_check(
            carrier_gal_per_1000sqft=carrier,
            nozzle_spacing_in=sheet.nozzle_spacing_in,
            speed_mph=sheet.speed_mph,
        )
    if sheet.seconds_per_1000sqft:
        return gun_check(
            carrier_gal_per_1000sqft=carrier,
            seconds_per_1000sqft=sheet.seconds_per_1000sqft,
            nozzles=sheet.nozzle_count,
        )
    return None


def _course_of(sheet: CrewSheet) -> OunceCourse | None:
    if not (sheet.nozzle_spacing_in and sheet.speed_mph):
        return None
    return ounce_course(
        carrier_gal_per_1000sqft=sheet.carrier_gal_per_1000sqft,
        nozzle_spacing_in=sheet.nozzle_spacing_in,
        speed_mph=sheet.speed_mph,
    )


def _nozzle(sheet: CrewSheet) -> Iterator[Line]:
    check = _check_of(sheet)
    if check is None:
        return
    seconds = reader().number(check.catch_seconds, 0)
    name = _("Each nozzle gives in {seconds} seconds").format(seconds=seconds)
    yield Line(name, both_units.caught(check.catch_fl_oz), is_main=True)
    low, high = both_units.caught(check.least_fl_oz), both_units.caught(check.most_fl_oz)
    yield Line(_("Good from"), both_units.between(low, high))


def _cups(sheet: CrewSheet) -> Cups | None:
    check = _check_of(sheet)
    if check is None:
        return None
    return Cups(
        numbers=range(1, min(sheet.nozzle_count, _MOST_CUPS) + 1),
        least_fl_oz=check.least_fl_oz,
        most_fl_oz=check.most_fl_oz,
        target_fl_oz=check.catch_fl_oz,
        carrier_gal_per_1000sqft=sheet.carrier_gal_per_1000sqft,
        litres_per_100_m2_per_gal=L_PER_GAL * both_units.PER_100_M2,
    )


def _nozzle_words(sheet: CrewSheet) -> Iterator[str]:
    """How it is caught; numbers that the sheet was made for."""
    if sheet.nozzle_spacing_in and sheet.speed_mph:
        yield ngettext(
            "With water, at the pressure you spray with: {count} nozzle, {inches} in at {mph} mph"
            " ({cm} cm, {kmh} km/h).",
            "With water, at the pressure you spray with: {count} nozzles {inches} in apart at"
            " {mph} mph ({cm} cm, {kmh} km/h).",
            sheet.nozzle_count,
        ).format(
            count=sheet.nozzle_count,
            inches=reader().at_most(sheet.nozzle_spacing_in, 1),
            mph=reader().at_most(sheet.speed_mph, 1),
            cm=reader().number(sheet.nozzle_spacing_in * _CM_PER_IN, 0),
            kmh=reader().number(sheet.speed_mph * _KM_PER_MILE, 1),
        )
    elif sheet.seconds_per_1000sqft:
        yield ngettext(
            "With water, at the pressure you spray with: {seconds} second for 1,000 sq ft (93 m²).",
            "With water, at the pressure you spray with: {seconds} seconds for 1,000 sq ft"
            " (93 m²).",
            round(sheet.seconds_per_1000sqft),
        ).format(seconds=reader().number(sheet.seconds_per_1000sqft, 0))
    else:
        yield _("Speed and nozzles are not on this sheet: calibrate before you spray.")
        return
    yield _("Outside of this clean or change the nozzle, then the pressure or the speed.")
    course = _course_of(sheet)
    if course is not None:
        amount = both_units.caught(course.catch_fl_oz)
        yield ngettext(
            "Or drive {feet} ft in {seconds} second and catch one nozzle as long: {us} ({metric}).",
            "Or drive {feet} ft in {seconds} seconds and catch one nozzle as long: {us}"
            " ({metric}).",
            round(course.course_seconds),
        ).format(
            feet=reader().number(course.course_ft, 0),
            seconds=reader().number(course.course_seconds, 0),
            us=amount.us,
            metric=amount.metric,
        )
