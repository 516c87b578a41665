"""Pages of long lists: keys are sorted and counted, rows are read for one page alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet


def page_of(
    rows: QuerySet[Any],
    asked: str | None,
    *,
    per_page: int,
    read: Callable[[Any], Iterable[Any]],
) -> Page[Any]:
    """The asked page of ``rows``, in their order; the last one where there are fewer.

    ``rows`` are filtered and sorted and otherwise bare: nobody has to carry what a row shows
    through the sorting of all. ``read`` gets the rows of the page, unsorted, and adds that.
    """
    page = Paginator(rows.values_list("pk", flat=True), per_page).get_page(asked)
    keys = list(page.object_list)
    found = {row.pk: row for row in read(rows.model._default_manager.filter(pk__in=keys))}
    # A row that was deleted between the two queries is left out.
    page.object_list = [found[key] for key in keys if key in found]
    return page
