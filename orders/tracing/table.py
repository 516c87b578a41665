"""A trace written out: rows of a table, and plain values for a program.

The grade is what a batch was sold as, the same as on its papers.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from orders.inventory.traced import Carried, Trace, TracedBatch, Use
from orders.models import StockLot
from orders.production.grades import grades_of_batches

#: Column titles of ``table``.
COLUMNS: Final = (
    "lot",
    "stock",
    "stock name",
    "supplier",
    "supplier's lot",
    "received",
    "lot state",
    "lot on hand lb",
    "lb in batch",
    "batch",
    "batch state",
    "blend",
    "grade",
    "order",
    "customer",
    "ship to",
    "package",
    "package net lb",
    "with heel of batch",
)


def table(found: Trace) -> Iterator[tuple[str, ...]]:
    """One row for each lot, batch and package that meet; a lot that went nowhere has one too."""
    cells = {lot.pk: _lot_cells(lot) for lot in found.lots}
    grades = grades_of_batches(found.batches.numbers)
    met: set[int] = set()
    for batch in found.batches:
        filled = [
            (*ordered, *package)
            for part in batch.parts
            for ordered in [(part.order_number, part.customer, part.ship_to)]
            for package in [(p.serial, str(p.net_lb)) for p in part.packages] or [("", "")]
        ]
        made = (batch.number, batch.state, batch.blend, grades[batch.number])
        came: list[tuple[Use | Carried, str]] = [(use, "") for use in batch.uses]
        came += [(each, each.of) for each in batch.carried]
        for each, heel_of in came:
            met.add(each.lot.pk)
            begin = (*cells[each.lot.pk], str(each.lb), *made)
            for end in filled:
                yield (*begin, *end, heel_of)
    for lot in found.lots:
        if lot.pk not in met:
            yield (*cells[lot.pk], *[""] * (len(COLUMNS) - 8))


def as_json(found: Trace) -> dict[str, Any]:
    """The trace as plain values: masses as decimal text, so that no digit is lost."""
    grades = grades_of_batches(found.batches.numbers)
    return {
        "asked": found.asked,
        "start": found.start.value,
        "customers": list(found.customers),
        "package_count": found.package_count,
        "only_by_heel": found.only_by_heel,
        "lots": [
            {
                "lot": lot.code,
                "stock": lot.stock.code,
                "supplier": lot.supplier,
                "supplier_lot": lot.supplier_lot,
                "received_on": lot.received_on.isoformat(),
                "state": lot.state,
                "on_hand_lb": str(lot.on_hand_lb),
            }
            for lot in found.lots
        ],
        "batches": [_batch_json(batch, grades[batch.number]) for batch in found.batches],
    }


def _batch_json(batch: TracedBatch, grade: str) -> dict[str, Any]:
    return {
        "batch": batch.number,
        "state": batch.status,
        "blend": batch.blend,
        "grade": grade,
        "lots": [{"lot": use.lot.code, "lb": str(use.lb)} for use in batch.uses],
        "heels": [{"batch": heel.of, "lb": str(heel.lb)} for heel in batch.heels],
        "lots_by_heel": [
            {"lot": each.lot.code, "heel_of": each.of, "lb": str(each.lb)} for each in batch.carried
        ],
        "parts": [
            {
                "order": part.order_number,
                "customer": part.customer,
                "ship_to": part.ship_to,
                "packages": [
                    {"serial": package.serial, "net_lb": str(package.net_lb)}
                    for package in part.packages
                ],
            }
            for part in batch.parts
        ],
    }


def _lot_cells(lot: StockLot) -> tuple[str, ...]:
    return (
        lot.code,
        lot.stock.code,
        lot.stock.name,
        lot.supplier,
        lot.supplier_lot,
        lot.received_on.isoformat(),
        lot.get_state_display(),
        str(lot.on_hand_lb),
    )
