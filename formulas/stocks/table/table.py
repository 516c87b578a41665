"""Reading and writing the catalogue table as CSV text, safe for spreadsheets in both directions."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from blendshop.csv_upload import TableRow, read_rows
from blendshop.spreadsheet_cells import guarded
from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.label.metals import METALS
from formulas.stocks.table.fields import (
    ANALYSIS,
    COLUMNS,
    COST,
    FIELDS,
    METAL,
    REQUIRED_COLUMNS,
    TRAITS,
)

#: Every field by its small letters: some hand a table on in small letters only.
_AS_WRITTEN: Final = {
    field.lower(): field
    for field in (
        *FIELDS,
        TRAITS,
        COST,
        *(f"{ANALYSIS}{key}" for key in ANALYSIS_KEYS),
        *(f"{METAL}{metal}" for metal in METALS),
    )
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table; ``number`` is the line in the file, the header being line 1."""

    number: int
    code: str
    field: str
    value: str
    unit: str
    source: str
    mark: str
    effective_from: str


def read_lines(text: str) -> tuple[Line, ...]:
    """The lines of a table, codes and fields as the catalogue writes them.

    BadInput if it is no table, has wrong columns or is endless.
    """
    return tuple(_line(row) for row in read_rows(text, columns=COLUMNS, required=REQUIRED_COLUMNS))


def write_lines(lines: Iterable[Line]) -> str:
    """The table as CSV text. Text that a spreadsheet would run as a formula gets a ``'``."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([guarded(getattr(line, name)) for name in COLUMNS] for line in lines)
    return out.getvalue()


def _line(row: TableRow) -> Line:
    cells = {name: row.cells.get(name, "") for name in COLUMNS}
    cells["code"] = cells["code"].upper()
    cells["field"] = _AS_WRITTEN.get(cells["field"].lower(), cells["field"])
    return Line(row.number, **cells)
