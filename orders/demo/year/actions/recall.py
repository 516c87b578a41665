"""The year's recall: what its lot reached was held, its customers told, and it is closed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from orders.demo.year import calendar
from orders.demo.year import recall as said
from orders.demo.year.actions.batches import Made
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.actions.people import People
from orders.models import (
    HeldByRecall,
    Recall,
    RecallCustomer,
    RecallEvent,
    StockLot,
    ToldOfRecall,
)
from orders.recall.affected import affected


def add_recall(made: Sequence[Made], people: People, today: date) -> Recall | None:
    """The newest lot of the stock that was in shipped orders alone; None where there is none."""
    lot = _lot(made, today - timedelta(days=said.DAYS_AGO))
    found = None if lot is None else affected(lot.code)
    if lot is None or found is None:
        return None
    held = [each for each in made if each.batch.pk in found.batch_ids]
    last = max(order.of.shipped_on or today for each in held for order in each.placed)
    opened = calendar.moment(calendar.after(last, 3), 10 * 60)
    held_at, closed = (
        opened + timedelta(minutes=10),
        calendar.moment(calendar.after(last, 11), 15 * 60),
    )
    freed = calendar.moment(calendar.after(last, 10), 15 * 60)
    (number,) = numbers("R", [opened.date()])
    (recall,) = put_in(
        Recall,
        [
            Recall(
                number=number,
                source=lot.code,
                reason=said.REASON,
                customer_reason=said.CUSTOMER_REASON,
                opened_by=people.formulator,
                opened_at=opened,
                held_at=held_at,
                freed_at=freed,
                closed_at=closed,
            )
        ],
    )
    put_in(
        HeldByRecall,
        (HeldByRecall(recall=recall, batch=each.batch, at=held_at) for each in held),
    )
    customers = put_in(
        RecallCustomer,
        (RecallCustomer(recall=recall, company=each.company) for each in found.customers),
    )
    caller = people.reps[0]
    put_in(
        ToldOfRecall,
        (
            ToldOfRecall(
                customer=customer,
                way=ToldOfRecall.Way.PHONE,
                told_at=opened + timedelta(hours=1 + n),
                note=said.TOLD,
                key=f"demo-year-told-{customer.pk}",
                at=opened + timedelta(hours=1 + n, minutes=5),
                by=caller,
                who=str(caller),
            )
            for n, customer in enumerate(customers)
        ),
    )
    who = people.formulator
    put_in(
        RecallEvent,
        (
            RecallEvent(recall=recall, at=at, by=who, who=str(who), to_status=to, why=why)
            for at, to, why in (
                (opened, "opened", f"Recall of {lot.code}: {said.REASON}"),
                (
                    held_at,
                    "held",
                    f"Held what was not held yet: 0 lots and {len(held)} batches.",
                ),
                (opened + timedelta(minutes=20), "worded", "Words for customers written."),
                (freed, "freed", said.FREED),
                (closed, "closed", said.CLOSED),
            )
        ),
    )
    return recall


def _lot(made: Sequence[Made], before: date) -> StockLot | None:
    """Used up by batches whose orders had all left by a day."""
    left_late = {
        each.lots[said.STOCK].pk
        for each in made
        if said.STOCK in each.lots
        and any(
            order.of.shipped_on is None or order.of.shipped_on > before for order in each.placed
        )
    }
    suiting = [
        each.lots[said.STOCK]
        for each in made
        if said.STOCK in each.lots and each.lots[said.STOCK].pk not in left_late
    ]
    return suiting[-1] if suiting else None
