"""Records of applications found, with what their state asks for and is missing, and as a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.accounts.models import User
from formulas.engine.units import FL_OZ_PER_GAL
from formulas.reference.application_records import RecordDuty, record_duties
from orders.crew_sheet import both_units
from orders.crew_sheet.forms import RecordForm
from orders.models import ApplicationRecord
from orders.models.application_record import ApplicationRecordQuerySet

#: Fields of a record that no form has.
_OF_THE_SHEET: Final = {
    "product": gettext_lazy("Product"),
    "analysis": gettext_lazy("Analysis"),
    "derived_from": gettext_lazy("Derived from"),
    "lot": gettext_lazy("Lot"),
}
_COLUMNS: Final = (
    "applied_on", "start_time", "end_time", "applied_by", "certificate_no", "supervisor",
    "customer_name", "customer_phone", "place", "postal_code", "state", "area_sqft", "product",
    "analysis", "derived_from", "lot", "rate_fl_oz_per_1000sqft", "amount_gal", "net_lb",
    "wind_mph", "wind_from", "temperature_f", "weather", "equipment", "notes",
)  # fmt: skip
#: Heads of the file: the fields' names, and what it takes to read a row.
COLUMNS: Final = ("sheet", *_COLUMNS, "written_at", "written_by", "corrects_row", "row", "stands")
_PLACES: Final = {"rate_fl_oz_per_1000sqft": 2, "net_lb": 1}


@dataclass(frozen=True, slots=True)
class KeptRecord:
    """``missing`` are names of what the state asks for and is not written down."""

    record: ApplicationRecord
    missing: tuple[str, ...]
    is_corrected: bool

    @property
    def area(self) -> str:
        return both_units.area(self.record.area_sqft).chosen

    @property
    def rate(self) -> str:
        """Product on the lawn, fluid ounces and gallons or millilitres."""
        gal = self.record.rate_fl_oz_per_1000sqft / FL_OZ_PER_GAL
        return both_units.product_rate(gal).chosen


def find_records(user: User, wanted: dict[str, Any]) -> ApplicationRecordQuerySet:
    """Of a person's company, by words and days, the newest day first."""
    found: ApplicationRecordQuerySet = ApplicationRecord.objects.visible_to(user)
    if text := str(wanted.get("q") or "").strip():
        found = found.filter(
            Q(place__icontains=text)
            | Q(customer_name__icontains=text)
            | Q(applied_by__icontains=text)
            | Q(lot__icontains=text)
            | Q(sheet__number__iexact=text)
        )
    if since := wanted.get("since"):
        found = found.filter(applied_on__gte=since)
    if until := wanted.get("until"):
        found = found.filter(applied_on__lte=until)
    ordered: ApplicationRecordQuerySet = found.order_by("-applied_on", "-pk")
    return ordered


def read_records(rows: Any) -> list[Any]:
    """Rows of one page, with all a row shows."""
    return list(rows.select_related("sheet", "company", "corrects", "correction"))


def kept_records(records: Iterable[ApplicationRecord]) -> list[KeptRecord]:
    """Each beside what is missing of it; the rows with sheet and correction."""
    return [KeptRecord(each, missing(each), hasattr(each, "correction")) for each in records]


def missing(record: ApplicationRecord) -> tuple[str, ...]:
    """Names of fields the record's state asks for that are empty."""
    duty = record_duties().get(record.state)
    asked = duty.asked if duty else frozenset[str]()
    return tuple(field_name(key) for key in sorted(asked) if not getattr(record, key))


def duties_of(states: Iterable[str]) -> list[RecordDuty]:
    """What is known of these states, each once."""
    known = record_duties()
    return [known[state] for state in sorted(set(states)) if state in known]


def table_rows(records: Iterable[ApplicationRecord]) -> Iterator[Sequence[str]]:
    """For the file, in ``COLUMNS``; figures as they are kept, without marks."""
    for each in records:
        yield (
            each.sheet.number,
            *(_cell(each, name) for name in _COLUMNS),
            each.at.isoformat(timespec="minutes"),
            each.who,
            str(each.corrects_id or ""),
            str(each.pk),
            _("no") if hasattr(each, "correction") else _("yes"),
        )


def _cell(record: ApplicationRecord, name: str) -> str:
    value = getattr(record, name)
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.{_PLACES.get(name, 3)}f}".rstrip("0").rstrip(".")
    return str(value)


def field_name(key: str) -> str:
    """A field of a record as its form names it, in the reader's language."""
    if key in _OF_THE_SHEET:
        return str(_OF_THE_SHEET[key])
    return str(RecordForm.base_fields[key].label)
