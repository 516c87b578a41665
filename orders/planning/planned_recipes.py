"""By which revision an order line is made.

The revision a customer accepted stands on the line for good. An accepted stock plan may have the
line made by another one with the same wish and grade; ``PlannedRecipe`` remembers that, and
batches that are planned from then on follow it. Batches planned before keep their frozen plan.
"""

from __future__ import annotations

from collections.abc import Iterable

from formulas.models import BlendRevision
from orders.models import OrderLine, PlannedRecipe


def making_revision(line: OrderLine) -> BlendRevision:
    """The revision the line is made by: the newest planned one, else the accepted one."""
    return making_revisions([line])[line.pk]


def making_revisions(lines: Iterable[OrderLine]) -> dict[int, BlendRevision]:
    """``making_revision`` of many lines by their ids, in one query more."""
    wanted = {line.pk: line.revision for line in lines}
    planned = PlannedRecipe.objects.filter(order_line__in=wanted).select_related("revision__blend")
    for row in planned.order_by("pk"):
        wanted[row.order_line_id] = row.revision
    return wanted


def making_revision_ids(lines: Iterable[OrderLine]) -> dict[int, int]:
    """The ids of ``making_revisions`` by the lines' ids, in one query."""
    wanted = {line.pk: line.revision_id for line in lines}
    planned = PlannedRecipe.objects.filter(order_line__in=wanted).order_by("pk")
    wanted.update(planned.values_list("order_line", "revision"))
    return wanted


def made_otherwise(lines: Iterable[OrderLine]) -> list[tuple[OrderLine, BlendRevision]]:
    """The lines that are made by another revision than the accepted one, with it."""
    lines = list(lines)
    revisions = making_revisions(lines)
    return [
        (line, revisions[line.pk]) for line in lines if revisions[line.pk].pk != line.revision_id
    ]
