"""Order lines as they are by now: what they are sold as and what they weigh."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import prefetch_related_objects

from orders.models import OrderLine
from orders.production.grades import grades_of_parts
from orders.production.net_weight import NetWeight, line_net_weight, net_weights, planned_parts


@dataclass(frozen=True, slots=True)
class MadeLine:
    """``grade`` is the accepted one until a load says another; each where loads differ."""

    line: OrderLine
    grade: str
    net: NetWeight


def made_lines(lines: Iterable[OrderLine]) -> list[MadeLine]:
    """The lines in their order, with one question about grades and weights of all of them."""
    found = list(lines)
    prefetch_related_objects(found, "parts__batch", "parts__packages")
    parts = [part for line in found for part in planned_parts(line)]
    grades, weights = grades_of_parts(part.pk for part in parts), net_weights(parts)
    return [MadeLine(line, _grade(line, grades), line_net_weight(line, weights)) for line in found]


def _grade(line: OrderLine, grades: dict[int, str]) -> str:
    of_parts = dict.fromkeys(grades[part.pk] for part in planned_parts(line))
    return " / ".join(of_parts) or line.revision.grade
