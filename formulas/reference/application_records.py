"""What states ask of who applies fertilizer for hire: certificate and record of application."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

from formulas.reference.citation import cited
from formulas.reference.facts import Source
from formulas.reference.reading import Row, rows

_FILE: Final = "application_records.toml"
_HERE: Final = Path(__file__).parent
_MOST_YEARS: Final = 30

#: Fields of an application record that a state may ask for.
RECORD_FIELDS: Final = (
    "customer_name", "customer_phone", "place", "postal_code", "applied_by", "certificate_no",
    "supervisor", "applied_on", "weather", "area_sqft", "product", "analysis", "derived_from",
    "lot", "amount_gal", "equipment",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RecordDuty:
    """Of one state: ``certificate`` and ``record`` in words, the latter empty where none was found.

    ``asked`` are keys of ``RECORD_FIELDS``; ``keep_years`` is None where no time was found.
    """

    state: str
    certificate: str
    record: str
    asked: frozenset[str]
    keep_years: int | None
    is_given_to_customer: bool
    source: Source


@cache
def record_duties(directory: Path = _HERE) -> Mapping[str, RecordDuty]:
    """Every state that was looked up, by its two letters."""
    found: dict[str, RecordDuty] = {}
    for row in rows(directory / _FILE, "state", "state"):
        duty = _duty(row)
        if duty.state in found:
            raise row.error("state", f"stands twice: {duty.state!r}")
        found[duty.state] = duty
    return MappingProxyType(found)


def _duty(row: Row) -> RecordDuty:
    asked = row.texts("asked")
    for key in asked:
        if key not in RECORD_FIELDS:
            raise row.error("asked", f"is no field of the record: {key!r}")
    years = row.optional_number("keep_years", 1, _MOST_YEARS)
    duty = RecordDuty(
        state=row.text("state"),
        certificate=row.text("certificate"),
        record=row.optional_text("record"),
        asked=frozenset(asked),
        keep_years=None if years is None else int(years),
        is_given_to_customer="is_given_to_customer" in row.values
        and row.flag("is_given_to_customer"),
        source=cited(row),
    )
    row.done()
    return duty
