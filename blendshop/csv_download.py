"""A table as a CSV file that a spreadsheet program opens without running anything in it."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from django.http import HttpResponse

from blendshop.downloads import private_file
from blendshop.spreadsheet_cells import guarded

#: Tells spreadsheet programs that the text is UTF-8.
MARK_OF_UTF_8: Final = "\ufeff"


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """The table as a file's text, UTF-8 with the mark spreadsheets look for."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return MARK_OF_UTF_8 + out.getvalue()


def csv_response(name: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """The table as a download named ``name``.csv."""
    return private_file(csv_text(columns, rows), "text/csv; charset=utf-8", f"{name}.csv")
