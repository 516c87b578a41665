"""Lines of what leaves an event of its own: moves of quotes, orders, batches, lots, recalls."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from formulas.models import BaseStock
from formulas.models.base_stock import stocks_named
from orders.changes.lines import FieldChange, Kind, Line
from orders.changes.source import Source
from orders.models import Batch, Order, Quote, StockLot
from orders.models.batch import BatchEvent
from orders.models.order import OrderEvent
from orders.models.quote import QuoteEvent
from orders.models.recall import RecallEvent
from orders.models.stock import LotEvent


@dataclass(frozen=True, slots=True)
class _Moved:
    """A table of events: whose they are, by which column it is known, what its states are called.

    ``owner`` leads to the customer or the stock, by whose name a record is also found.
    """

    events: type[Any]
    kind: Kind
    record: str
    number: str
    route: str
    states: dict[str, Any]
    owner: str = ""


#: A record is looked for among so many, the newest first.
_MOST_RECORDS: Final = 200
_QUOTE, _ORDER, _BATCH = (dict(each.Status.choices) for each in (Quote, Order, Batch))
_MOVED = (
    _Moved(QuoteEvent, Kind.QUOTES, "quote", "number", "quote_detail", _QUOTE, "company"),
    _Moved(OrderEvent, Kind.ORDERS, "order", "number", "order_detail", _ORDER, "company"),
    _Moved(BatchEvent, Kind.BATCHES, "batch", "number", "batch_detail", _BATCH),
    _Moved(LotEvent, Kind.LOTS, "lot", "code", "lot_detail", dict(StockLot.State.choices), "stock"),
    _Moved(RecallEvent, Kind.RECALLS, "recall", "number", "recall_detail", {}),
)


def move_sources() -> list[Source]:
    return [
        Source(
            key=moved.events.__name__,
            kind=moved.kind,
            rows=moved.events.objects.all,
            when="at",
            person="by",
            of_record=partial(_of_record, moved),
            read=partial(_lines, moved),
        )
        for moved in _MOVED
    ]


def _of_record(moved: _Moved, text: str) -> Q:
    """By number, also by how it begins; where none is called so, by customer or stock.

    Keys are looked up first: a join with every event would be walked through.
    """
    records = moved.events._meta.get_field(moved.record).remote_field.model._default_manager
    called = Q(**{f"{moved.number}__in": (text, text.upper())})
    called |= Q(**{f"{moved.number}__startswith": text.upper()})
    keys = list(records.filter(called).order_by("-pk").values_list("pk", flat=True)[:_MOST_RECORDS])
    if keys or not moved.owner:
        return Q(**{f"{moved.record}__in": keys})
    owners: Any = (
        named(Company.objects.all(), text)
        if moved.owner == "company"
        else stocks_named(BaseStock.objects.all(), text)
    )
    of_owner = list(owners.values_list("pk", flat=True)[:_MOST_RECORDS])
    return Q(**{f"{moved.record}__{moved.owner}__in": of_owner})


def _lines(moved: _Moved, pks: Sequence[int], user: User) -> Iterator[Line]:
    numbers = moved.events.objects.filter(pk__in=pks).values_list(
        "pk", f"{moved.record}__{moved.number}"
    )
    number_of = dict(numbers)
    for event in moved.events.objects.filter(pk__in=pks).defer("data"):
        number = number_of[event.pk]
        old, new = (
            str(moved.states.get(state, state)) for state in (event.from_status, event.to_status)
        )
        moves = event.from_status != event.to_status
        yield Line(
            source=moved.events.__name__,
            pk=event.pk,
            at=event.at,
            who=event.who,
            kind=moved.kind,
            record=number,
            verb="" if moves else _("noted"),
            fields=(FieldChange(_("State"), old, new),) if moves else (),
            why=event.why,
            url=reverse(moved.route, args=[number]),
        )
