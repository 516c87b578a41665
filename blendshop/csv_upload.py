"""The one reader of tables people send in: bytes to named cells, each complaint with its line.

Commas, semicolons or tabs; UTF-8 with or without its mark, or UTF-16 as spreadsheet programs save
"Unicode text"; headers in any case and order.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.spreadsheet_cells import unguarded

#: What a plant of several hundred stocks exports comes back in one file.
MOST_BYTES: Final = 4_000_000
MOST_LINES: Final = 25_000
_DELIMITERS: Final = ",;\t"


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row below the header: the line of the file it begins on, and its cells by column."""

    number: int
    cells: Mapping[str, str]


def decode(data: bytes) -> str:
    """The text of an uploaded file; BadInput in words for a wrong size or encoding."""
    if len(data) > MOST_BYTES:
        raise BadInput(
            _("The file is larger than {size} kB; split it.").format(size=MOST_BYTES // 1000)
        )
    encoding = _encoding(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        raise BadInput(
            _("The file is not UTF-8 text (line {line}). Save it as “CSV UTF-8”.").format(
                line=data[: error.start].count(b"\n") + 1
            )
        ) from error
    if "\x00" in text:
        raise BadInput(_("The file holds binary data, not text. Save it as “CSV UTF-8”."))
    return text


def read_rows(
    text: str, *, columns: Sequence[str], required: Sequence[str]
) -> tuple[TableRow, ...]:
    """The rows of a table with some of these columns and all ``required`` ones.

    BadInput if it is no table, has wrong columns or is endless.
    """
    text = text.lstrip("\ufeff")
    head = re.split(r"[\r\n]", text.lstrip(), maxsplit=1)[0]
    delimiter = max(_DELIMITERS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[TableRow] = []
    too_long: list[int] = []
    try:
        names = _columns(next((cells for cells in reader if any(cells)), []), columns, required)
        begins = reader.line_num + 1
        for cells in reader:
            number, begins = begins, reader.line_num + 1
            if len(rows) >= MOST_LINES:
                raise BadInput(
                    _("The file has more than {most} lines; split it.").format(
                        most=format(MOST_LINES, ",")
                    )
                )
            if any(cell.strip() for cell in cells[len(names) :]):
                too_long.append(number)
            elif any(cell.strip() for cell in cells):
                found = zip(names, cells, strict=False)
                rows.append(TableRow(number, {name: unguarded(cell) for name, cell in found}))
    except csv.Error as error:
        raise BadInput(
            _("Line {line_num} is not readable CSV: {error}.").format(
                line_num=reader.line_num, error=error
            )
        ) from error
    if too_long:
        raise BadInput(
            _("Line {numbers} has more cells than the header has columns.").format(
                numbers=", ".join(map(str, too_long))
            )
        )
    if not rows:
        raise BadInput(_("The file holds no lines below its header."))
    return tuple(rows)


def _encoding(data: bytes) -> str:
    """By the mark at its beginning; without one, a header's every second byte is 0 in UTF-16."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    start = data[:40]
    if len(start) >= 4 and len(data) % 2 == 0:
        for first, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
            if not any(start[first::2]) and all(start[1 - first :: 2]):
                return encoding
    return "utf-8-sig"


def _columns(cells: Sequence[str], columns: Sequence[str], required: Sequence[str]) -> list[str]:
    names = [re.sub(r"[\s-]+", "_", cell.strip().lower()) for cell in cells]
    missing = [name for name in required if name not in names]
    if missing:
        raise BadInput(
            _("The header lacks the column {missing}.").format(missing=" and ".join(missing))
        )
    unknown = [name for name in names if name and name not in columns]
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
