"""A table as a CSV file that a spreadsheet program opens without running anything in it."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from django.http import HttpResponse

#: A cell that begins with one of these is taken for a formula by spreadsheet programs.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def csv_response(name: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """The table as a download named ``name``.csv, UTF-8 with the mark spreadsheets look for."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([_guarded(cell) for cell in row] for row in rows)
    response = HttpResponse("\ufeff" + out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    response["Cache-Control"] = "private, no-store"
    return response


def _guarded(cell: str) -> str:
    is_number = cell.removeprefix("-").replace(".", "", 1).isdecimal()
    return f"'{cell}" if cell.startswith(_FORMULA_STARTS) and not is_number else cell
