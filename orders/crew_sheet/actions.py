"""Making and closing a crew sheet, and writing down what was applied."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, time, timedelta
from typing import Any, Final, TypeVar

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import reader
from blendshop.languages.choice import house_choice, written_in
from blendshop.roles import STAFF, Role, has_role, require_role
from formulas.engine.units import FL_OZ_PER_GAL, SQFT_PER_RATE_AREA
from orders.crew_sheet.application import NEVER_SPRAYED, Application, crew_figures
from orders.crew_sheet.links import require_open
from orders.models import ApplicationRecord, BatchPart, CrewSheet, OrderLine
from orders.records.numbering import next_number

Row = TypeVar("Row", CrewSheet, ApplicationRecord)

MAKERS: Final = (Role.CUSTOMER, Role.REP, Role.FORMULATOR, Role.OFFICE)
#: Who reads records of applications and corrects them.
KEEPERS: Final = (Role.CUSTOMER, Role.REP, Role.OFFICE)
NUMBER_PREFIX: Final = "CS"
#: More records of one sheet in a day are no work of a crew (the house's own rule).
MOST_RECORDS_A_DAY: Final = 60
#: A day further before the sheet's first is a slip in the year (the house's own rule).
MOST_DAYS_BEFORE: Final = timedelta(days=300)
#: So many times the sheet's rate, or so many times less, is a slip of the decimal point.
SLIP: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What is written down of one application; amount is product, not spray."""

    applied_by: str
    applied_on: date
    place: str
    area_sqft: float
    amount_gal: float
    customer_name: str = ""
    customer_phone: str = ""
    postal_code: str = ""
    certificate_no: str = ""
    supervisor: str = ""
    start_time: time | None = None
    end_time: time | None = None
    wind_mph: float | None = None
    wind_from: str = ""
    temperature_f: float | None = None
    weather: str = ""
    equipment: str = ""
    notes: str = ""


def make_sheet(
    *,
    acting_user: User,
    line: OrderLine,
    part: BatchPart | None,
    application: Application,
    key: str,
) -> CrewSheet:
    """A sheet of one order line, of a lot of it where one is made; sent again it is the same.

    BadInput names refused figures, IllegalMove where nothing of the order is ever made.
    """
    require_role(acting_user, *MAKERS)
    if line.order.status in NEVER_SPRAYED:
        raise IllegalMove(_("Nothing of this order is made, so nothing of it is sprayed."))
    if part is not None and part.order_line_id != line.pk:
        raise BadInput(_("The lot is of another order."), fields={"part": _("Of another order.")})
    with written_in(house_choice()):  # kept: each reader's language translates it
        figures = crew_figures(line, part, application)
    with transaction.atomic():
        # Two clicks at once: the second waits here and finds the sheet of the first.
        OrderLine.objects.select_for_update().get(pk=line.pk)
        if done := CrewSheet.objects.filter(key=key).first():
            return _same(done, is_its_own=done.order_line_id == line.pk)
        return CrewSheet.objects.create(
            number=next_number(NUMBER_PREFIX),
            key=key,
            company=line.order.company,
            order_line=line,
            part=part,
            figures=figures.to_json(),
            made_by=acting_user,
            **asdict(application),
        )


def close_sheet(*, sheet: CrewSheet, acting_user: User) -> None:
    """From now on its link opens nothing; what was written by it stays."""
    require_role(acting_user, *MAKERS)
    with transaction.atomic():
        open_one = CrewSheet.objects.filter(pk=sheet.pk, closed_at__isnull=True)
        if not open_one.update(closed_at=timezone.now()):
            raise IllegalMove(_("The sheet is closed already."))


def write_record(
    *, sheet: CrewSheet, applied: Applied, key: str, acting_user: User | None = None
) -> ApplicationRecord:
    """By the crew, with the sheet's link alone, or by somebody signed in; once for each ``key``."""
    require_open(sheet)
    return _write(sheet, applied, key, acting_user, corrects=None)


def correct_record(
    *, record: ApplicationRecord, applied: Applied, key: str, acting_user: User
) -> ApplicationRecord:
    """A row that stands in the place of ``record``, which stays; also of a closed sheet."""
    require_role(acting_user, *KEEPERS)
    return _write(record.sheet, applied, key, acting_user, corrects=record)


def _write(
    sheet: CrewSheet,
    applied: Applied,
    key: str,
    acting_user: User | None,
    *,
    corrects: ApplicationRecord | None,
) -> ApplicationRecord:
    _require_sound(sheet, applied)
    figures = sheet.crew_figures
    with transaction.atomic():
        CrewSheet.objects.select_for_update().get(pk=sheet.pk)  # sent twice, written once
        if done := ApplicationRecord.objects.filter(key=key).first():
            before: ApplicationRecord = _same(done, is_its_own=done.sheet_id == sheet.pk)
            _require_unchanged(before, applied)
            return before
        if corrects is not None and ApplicationRecord.objects.filter(corrects=corrects).exists():
            raise IllegalMove(_("It is corrected already; correct the newest one."))
        _require_not_flooded(sheet, acting_user)
        written: ApplicationRecord = ApplicationRecord.objects.create(
            key=key,
            by=acting_user,
            who=applied.applied_by if acting_user is None else str(acting_user),
            company=sheet.company,
            sheet=sheet,
            corrects=corrects,
            state=sheet.state,
            product=figures.product_name,
            analysis=figures.grade,
            derived_from=", ".join(figures.derived_from)[:400],
            lot=figures.lot,
            density_lb_per_gal=figures.density_lb_per_gal,
            rate_fl_oz_per_1000sqft=applied.amount_gal
            * FL_OZ_PER_GAL
            / (applied.area_sqft / SQFT_PER_RATE_AREA),
            **asdict(applied),
        )
        return written


def _same(done: Row, *, is_its_own: bool) -> Row:
    """What was sent before under the key; BadInput for the key of something else."""
    if not is_its_own:
        raise BadInput(_("This form was sent for something else; open the page again."))
    return done


def _require_unchanged(before: ApplicationRecord, applied: Applied) -> None:
    """A page whose answer was lost on the way may have been typed over: that is another record."""
    if any(getattr(before, name) != value for name, value in asdict(applied).items()):
        raise IllegalMove(
            _(
                "This page has kept a record already, of {place}. Open the sheet again and write"
                " the next one there."
            ).format(place=before.place)
        )


def _require_sound(sheet: CrewSheet, applied: Applied) -> None:
    wrong: dict[str, Any] = {}
    # A crew in another time zone may be a day ahead.
    if applied.applied_on > timezone.localdate() + timedelta(days=1):
        wrong["applied_on"] = _("This day is still to come.")
    elif applied.applied_on < sheet.from_on - MOST_DAYS_BEFORE:
        wrong["applied_on"] = _("This day lies long before the sheet: check the year.")
    if applied.start_time and applied.end_time and applied.end_time < applied.start_time:
        wrong["end_time"] = _("It ended before it began.")
    if not applied.notes and (words := _slip(sheet, applied)):
        wrong["amount_gal"] = words
    if wrong:
        raise BadInput(_("Some fields need correcting."), fields=wrong)


def _slip(sheet: CrewSheet, applied: Applied) -> str:
    """Words for a rate that only a slip of the decimal point or a spill explains; else nothing."""
    wanted = sheet.crew_figures.spray.product_gal_per_1000sqft
    times = applied.amount_gal / (applied.area_sqft / SQFT_PER_RATE_AREA) / wanted
    if 1 / SLIP < times < SLIP:
        return ""
    return _(
        "That is {share} % of the sheet's rate. Check the gallons and the area, or say in the notes"
        " what happened."
    ).format(share=reader().at_most(times * 100, 1))


def _require_not_flooded(sheet: CrewSheet, acting_user: User | None) -> None:
    if acting_user is not None and has_role(acting_user, *STAFF, Role.CUSTOMER):
        return
    since = timezone.now() - timedelta(days=1)
    if sheet.records.filter(at__gte=since).count() >= MOST_RECORDS_A_DAY:
        raise IllegalMove(
            _("This sheet has {count} records of the last day already; ask your office.").format(
                count=MOST_RECORDS_A_DAY
            )
        )
