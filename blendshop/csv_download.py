"""A table as a CSV file that a spreadsheet program opens without running anything in it."""

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

from blendshop.downloads import private_file
from blendshop.spreadsheet_cells import guarded


def csv_response(name: str, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> HttpResponse:
    """The table as a download named ``name``.csv, UTF-8 with the mark spreadsheets look for."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    text = "\ufeff" + out.getvalue()
    return private_file(text, "text/csv; charset=utf-8", f"{name}.csv")
