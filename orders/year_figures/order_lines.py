"""Order lines of a period, and what they are grouped by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.db.models import CharField, F, QuerySet, Value
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Coalesce, NullIf, TruncMonth
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orders.models import Order, OrderLine
from orders.year_figures.asked import NOBODY, Asked, By, Counted

#: Orders of the plant: neither asked for only nor given up.
_STANDING: Final = (
    Order.Status.OPEN,
    Order.Status.PLANNED,
    Order.Status.MADE,
    Order.Status.SHIPPED,
)
#: What an order may have been before it was shipped; a note on a shipped one ships nothing.
_BEFORE_SHIPPING: Final = [
    status.value for status in Order.Status if status != Order.Status.SHIPPED
]


@dataclass(frozen=True, slots=True)
class Grouping:
    """``key`` and ``label`` are names in the query; the label of a month is made of its key."""

    key: str
    label: str


_GROUPS: Final[Mapping[By, Grouping]] = {
    By.CUSTOMER: Grouping("order__company", "order__company__name"),
    By.BLEND: Grouping("revision__blend", "revision__blend__name"),
    By.REP: Grouping("order__quote__created_by", "order__quote__created_by__name"),
    By.STATE: Grouping("to_state", "to_state"),
    By.MONTH: Grouping("month", "month"),
    By.RECORD: Grouping("order", "order__number"),
}


def order_lines(asked: Asked) -> QuerySet[OrderLine]:
    """Lines whose order was shipped (or placed) in the period, with ``at`` and ``to_state``."""
    period = asked.period
    if asked.counted == Counted.SHIPPED:
        lines = OrderLine.objects.filter(
            order__status=Order.Status.SHIPPED,
            order__events__to_status=Order.Status.SHIPPED,
            order__events__from_status__in=_BEFORE_SHIPPING,
            order__events__at__gte=period.begin,
            order__events__at__lt=period.end,
        )
        written_down = KeyTextTransform("state", "order__events__data")
        lines = lines.annotate(
            at=F("order__events__at"),
            to_state=Coalesce(
                NullIf(written_down, Value("")),
                F("order__ship_to__state"),
                output_field=CharField(),
            ),
        )
    else:
        lines = OrderLine.objects.filter(
            order__status__in=_STANDING,
            order__created_at__gte=period.begin,
            order__created_at__lt=period.end,
        ).annotate(at=F("order__created_at"), to_state=F("order__ship_to__state"))
    return _narrowed(lines, asked).order_by()


def grouped(lines: QuerySet[Any], by: By) -> QuerySet[Any, dict[str, Any]]:
    """The groups as ``of`` and ``called``, to be annotated with sums by the database."""
    names = _GROUPS[by]
    if by == By.MONTH:
        lines = lines.annotate(month=TruncMonth("at"))
    return lines.values(of=F(names.key), called=F(names.label))


def key_of(row: Mapping[str, Any]) -> Any:
    """What a row is grouped by; a month by its first day."""
    key = row["of"]
    return key.date() if isinstance(key, datetime) else key


def label_of(row: Mapping[str, Any], by: By) -> str:
    """The name of a group, for a person."""
    if by == By.REP and row["of"] is None:
        return _("ordered again, without a quote")
    if by == By.MONTH:
        return month_words(row["called"])
    return str(row["called"] or _("without a name"))


def month_words(day: date) -> str:
    """A month and its year in words."""
    return date_format(day, "F Y")


def _narrowed(lines: QuerySet[Any], asked: Asked) -> QuerySet[Any]:
    if asked.customer is not None:
        lines = lines.filter(order__company=asked.customer)
    if asked.blend is not None:
        lines = lines.filter(revision__blend=asked.blend)
    if asked.rep == NOBODY:
        lines = lines.filter(order__quote__isnull=True)
    elif asked.rep is not None:
        lines = lines.filter(order__quote__created_by=asked.rep)
    if asked.state:
        lines = lines.filter(to_state=asked.state)
    return lines
