"""The tables of prices as CSV: out as they stand, in as if they had been typed on the page.

A line is ``table, row, field, value``. ``table`` is policy, tier, break, zone or fee; ``row`` the
name of a tier or zone, the gallons of a break, the letters of a state, and empty for the policy.
An upload fills the page, which shows what it would do; saving is the page's own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _

from blendshop.csv_download import csv_text
from blendshop.csv_upload import TableRow, read_rows
from formulas.stocks.table.cells import CellError, amount_in, day_in
from orders.price_desk.desk import PriceDesk

COLUMNS: Final = ("table", "row", "field", "value")
_POLICY: Final = "policy"
#: Table of the file to the prefix of its forms and the field that names a row.
_TABLES: Final[Mapping[str, tuple[str, str]]] = {
    "tier": ("tiers", "name"),
    "break": ("breaks", "above_gal"),
    "zone": ("zones", "name"),
    "fee": ("fees", "state"),
}
_YES_NO: Final = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class PriceLineError:
    """What is wrong in a line of the file, the header being line 1."""

    line: int
    message: str


def export_prices(desk: PriceDesk) -> str:
    """The tables as they stand; uploaded again they change nothing."""
    lines = [(_POLICY, "", field.name, _cell(field.value())) for field in desk.policy]
    for name, (prefix, key) in _TABLES.items():
        for form in getattr(desk, prefix).initial_forms:
            row = _cell(form[key].value())
            lines += [
                (name, row, field.name, _cell(field.value()))
                for field in form.visible_fields()
                if field.name not in (key, "DELETE")
            ]
    return csv_text(COLUMNS, lines)


def read_prices(text: str, today: date) -> tuple[PriceDesk, list[PriceLineError]]:
    """The page as if the table had been typed on it, and every line that is wrong.

    BadInput if the file is no table at all.
    """
    rows = read_rows(text, columns=COLUMNS, required=COLUMNS)
    filling = _Filling(PriceDesk(today))
    errors = []
    for row in rows:
        try:
            filling.put(row)
        except CellError as error:
            errors.append(PriceLineError(row.number, error.message))
    desk = PriceDesk(today, filling.sent)
    desk.is_valid()
    for form in (desk.policy, *(form for table in desk.tables for form in table.forms)):
        first = min((line for key, line in filling.line_of.items() if _is_of(key, form)), default=0)
        errors += [
            PriceLineError(filling.line_of.get(form.add_prefix(name), first), str(why))
            for name, reasons in form.errors.items()
            for why in reasons
        ]
    for table in desk.tables:
        errors += [PriceLineError(0, str(why)) for why in table.non_form_errors()]
    return desk, sorted(errors, key=lambda error: error.line)


class _Filling:
    """Cells put over the page as it stands; remembers which line said what."""

    def __init__(self, desk: PriceDesk) -> None:
        self._desk = desk
        self.sent = desk.as_sent()
        self.line_of: dict[str, int] = {}
        self._places: dict[str, dict[str, int]] = defaultdict(dict)
        for prefix, key in _TABLES.values():
            for place, form in enumerate(getattr(desk, prefix).initial_forms):
                self._places[prefix][_cell(form[key].value()).casefold()] = place

    def put(self, row: TableRow) -> None:
        table, name, field = (row.cells.get(column, "") for column in COLUMNS[:3])
        table, field = table.lower(), field.lower()
        if table == _POLICY:
            prefix, form = "policy", self._desk.policy
        elif table in _TABLES:
            if not name:
                raise CellError("row", _("A {table} needs its name.").format(table=table))
            prefix, form = self._row(table, name, row.number), self._form_of(table)
        else:
            raise CellError("table", _("“{cell}” is no table of prices.").format(cell=table))
        if field not in form.fields or field in ("id", "DELETE"):
            raise CellError("field", _("{field} is not a known field.").format(field=field or "–"))
        key = f"{prefix}-{field}"
        if key in self.line_of:
            raise CellError(
                "field",
                _("{field} stands on line {seen} already.").format(
                    field=field, seen=self.line_of[key]
                ),
            )
        self.line_of[key] = row.number
        self._type(key, form.fields[field], row.cells.get("value", ""))

    def _form_of(self, table: str) -> Any:
        return getattr(self._desk, _TABLES[table][0]).empty_form

    def _row(self, table: str, name: str, line: int) -> str:
        """The prefix of a row's form; one that is not there yet is added behind the others."""
        prefix, key = _TABLES[table]
        places = self._places[prefix]
        if name.casefold() not in places:
            place = places[name.casefold()] = len(places)
            self.sent[f"{prefix}-TOTAL_FORMS"] = str(place + 2)  # and a blank one
            for field, blank in self._form_of(table).fields.items():
                if isinstance(blank.initial, int) and blank.initial is not False:
                    begins = "on" if blank.initial is True else str(blank.initial)
                    self.sent.setdefault(f"{prefix}-{place}-{field}", begins)
                    self.sent.setdefault(f"{prefix}-{place + 1}-{field}", begins)
            self.sent[f"{prefix}-{place}-{key}"] = name
            self.line_of[f"{prefix}-{place}-{key}"] = line
        return f"{prefix}-{places[name.casefold()]}"

    def _type(self, key: str, field: forms.Field, cell: str) -> None:
        if isinstance(field, forms.BooleanField):
            if cell.lower() not in _YES_NO:
                raise CellError(
                    "value", _("{cell} is neither yes nor no.").format(cell=cell or "–")
                )
            self.sent.pop(key, None)
            if _YES_NO[cell.lower()]:
                self.sent[key] = "on"
        elif isinstance(field, forms.DateField):
            self.sent[key] = day_in(cell, "value").isoformat()
        elif isinstance(field, forms.DecimalField):
            self.sent[key] = f"{amount_in(cell):f}"
        else:
            self.sent[key] = cell


def _is_of(key: str, form: Any) -> bool:
    return key.startswith(f"{form.prefix}-")


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else str(value)
