"""What is still to be filled of each part of a batch, and how much into each package."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db.models import Count, Sum
from django.utils.translation import gettext as _

from orders.models import Batch, BatchPart, Order
from orders.planning.parts import filling_words
from orders.production.charging_page import fresh_key

_NOTHING: Final = Decimal(0)


@dataclass(frozen=True, slots=True)
class FillingPart:
    """A part with what is filled of it; ``each_lb`` goes into each package that is left."""

    part: BatchPart
    words: str
    filled: int
    to_fill: int
    each_lb: Decimal

    def as_asked(self) -> dict[str, Any]:
        """What the form of filling starts with."""
        return {
            "part": self.part,
            "count": max(1, self.to_fill),
            "net_lb": self.each_lb,
            "key": fresh_key(),
        }


def unfilled_words(order: Order) -> str:
    """What of a made order is in no numbered package, in a sentence; empty when all is."""
    parts = BatchPart.objects.filter(
        order_line__order=order, batch__status=Batch.Status.RELEASED
    ).annotate(filled=Count("packages"))
    missing = [
        _("%(count)s of %(batch)s")
        % {"count": part.package_count - part.filled, "batch": part.batch.number}
        for part in parts.select_related("batch")
        if part.filled < part.package_count
    ]
    return (
        _("Packages not filled and numbered yet: %(missing)s.") % {"missing": ", ".join(missing)}
        if missing
        else ""
    )


def filling_parts(
    batch: Batch, charged_lb: Decimal, stays_lb: Decimal = Decimal(0)
) -> list[FillingPart]:
    """Each part of the batch in its order; it is due its share of ``charged_lb`` by gallons.

    No more is due of all of them together than is not filled yet; ``stays_lb`` is left in the
    tank and fills nothing.
    """
    annotated = batch.parts.annotate(filled=Count("packages"), filled_lb=Sum("packages__net_lb"))
    parts = list(annotated.order_by("position"))
    left_lb = charged_lb - stays_lb - sum((part.filled_lb or 0 for part in parts), Decimal(0))
    found = []
    for part in parts:
        share = Decimal(str(part.consignment.volume_gal / batch.target_gal))
        due_lb = min(max(left_lb, _NOTHING), charged_lb * share - (part.filled_lb or 0))
        to_fill = max(0, part.package_count - part.filled)
        # Down to a tenth, so that all of them together are in the tank.
        each_lb = Decimal(int(10 * max(due_lb, _NOTHING) / max(1, to_fill))) / 10
        left_lb -= each_lb * to_fill
        found.append(FillingPart(part, filling_words(part), part.filled, to_fill, each_lb))
    return found
