"""Reading and writing the catalogue table as CSV text, safe for spreadsheets in both directions."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.spreadsheet_cells import guarded, unguarded
from formulas.stocks.table.fields import COLUMNS, REQUIRED_COLUMNS

#: What a plant of several hundred stocks exports comes back in one file.
MOST_BYTES: Final = 4_000_000
MOST_LINES: Final = 25_000


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


def decode(data: bytes) -> str:
    """The text of an uploaded file; BadInput in words for a wrong size or encoding."""
    if len(data) > MOST_BYTES:
        raise BadInput(
            _("The file is larger than {size} kB; split it.").format(size=MOST_BYTES // 1000)
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            _("The file is not UTF-8 text (byte {position}). Save it as “CSV UTF-8”.").format(
                position=error.start + 1
            )
        ) from error
    if "\x00" in text:
        raise BadInput(_("The file holds binary data, not text. Save it as “CSV UTF-8”."))
    return text


def read_lines(text: str) -> tuple[Line, ...]:
    """The lines of a table; BadInput if it is no table, has wrong columns or is endless."""
    head = text.split("\n", 1)[0]
    delimiter = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        columns = _columns(next(reader, []))
        lines: list[Line] = []
        for cells in reader:
            if len(lines) >= MOST_LINES:
                raise BadInput(
                    _("The file has more than {most} lines; split it.").format(
                        most=format(MOST_LINES, ",")
                    )
                )
            if any(cell.strip() for cell in cells):
                lines.append(_line(reader.line_num, columns, cells))
    except csv.Error as error:
        raise BadInput(
            _("Line {line_num} is not readable CSV: {error}.").format(
                line_num=reader.line_num, error=error
            )
        ) from error
    if not lines:
        raise BadInput(_("The file holds no lines below its header."))
    return tuple(lines)


def write_lines(lines: Iterable[Line]) -> str:
    """The table as CSV text. Text that a spreadsheet would run as a formula gets a ``'``."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([guarded(getattr(line, name)) for name in COLUMNS] for line in lines)
    return out.getvalue()


def _columns(cells: Sequence[str]) -> list[str]:
    names = [cell.strip().lower() for cell in cells]
    missing = [name for name in REQUIRED_COLUMNS if name not in names]
    if missing:
        raise BadInput(
            _("The header lacks the column {missing}.").format(missing=" and ".join(missing))
        )
    unknown = [name for name in names if name and name not in COLUMNS]
    if unknown:
        raise BadInput(
            _("The header has an unknown column: {unknown}.").format(unknown=", ".join(unknown))
        )
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        raise BadInput(
            _("The header names a column twice: {twice}.").format(twice=", ".join(twice))
        )
    return names


def _line(number: int, columns: Sequence[str], cells: Sequence[str]) -> Line:
    if any(cell.strip() for cell in cells[len(columns) :]):
        raise BadInput(
            _("Line {number} has more cells than the header has columns.").format(number=number)
        )
    found = {name: unguarded(cell) for name, cell in zip(columns, cells, strict=False) if name}
    return Line(number, *(found.get(name, "") for name in COLUMNS))
