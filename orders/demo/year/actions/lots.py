"""The year's deliveries: lots with their certificates and what went in and out of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from blendshop.accounts.models import User
from formulas.models import BaseStock
from orders.demo.year import calendar
from orders.demo.year.actions.dated import numbers, put_in
from orders.demo.year.lots import CERTIFICATE, RESIDUE, SUPPLIERS, Delivery
from orders.models import LotEvent, LotFigure, StockLot, StockMovement

#: Minutes after midnight at which a lorry comes, and the tank farm is looked over.
_RECEIVED_AT: Final = 8 * 60
_LOOKED_AT: Final = 16 * 60 + 30
State = StockLot.State


def add_lots(
    deliveries: Sequence[Delivery], densities: Mapping[str, float], worker: User
) -> list[StockLot]:
    """The lots in the order they came, each with the movement it was received by.

    ``densities`` are those of the stocks at 60 °F, lb/gal.
    """
    stocks = {row.code: row for row in BaseStock.objects.prefetch_related("analysis_figures")}
    given = numbers("L", (each.received_on for each in deliveries))
    lots = put_in(
        StockLot,
        (
            _lot(each, stocks[each.code], code, densities[each.code])
            for each, code in zip(deliveries, given, strict=True)
        ),
    )
    put_in(
        LotFigure,
        (
            LotFigure(lot=lot, key=key, pct=pct, source=CERTIFICATE)
            for lot, each in zip(lots, deliveries, strict=True)
            for key, pct in each.pct(stocks[each.code].analysis()).items()
        ),
    )
    put_in(
        StockMovement,
        (
            _movement(lot, StockMovement.Kind.RECEIVED, lot.received_lb, lot.received_on, worker)
            for lot in lots
        ),
    )
    return lots


def finish_lots(lots: Sequence[StockLot], deliveries: Sequence[Delivery], worker: User) -> None:
    """What was left of lots that are used up is taken off them."""
    ended = [
        (lot, each)
        for lot, each in zip(lots, deliveries, strict=True)
        if lot.state == State.EXHAUSTED
    ]
    kind = StockMovement.Kind.ADJUSTED
    put_in(
        StockMovement,
        (
            _movement(lot, kind, -each.residue_lb, each.last_used_on, worker, RESIDUE)
            for lot, each in ended
            if each.residue_lb
        ),
    )
    put_in(
        LotEvent,
        (
            LotEvent(
                lot=lot,
                at=calendar.moment(each.last_used_on, _LOOKED_AT),
                by=worker,
                who=str(worker),
                from_status=State.OK,
                to_status=State.EXHAUSTED,
                why="Demo, invented.",
            )
            for lot, each in ended
        ),
    )


def _lot(each: Delivery, stock: BaseStock, code: str, density: float) -> StockLot:
    return StockLot(
        code=code,
        stock=stock,
        supplier=SUPPLIERS[each.supplier],
        supplier_lot=f"demo-{each.code.lower()}-{code[2:]}",
        received_lb=each.received_lb,
        on_hand_lb=each.left_lb,
        received_on=each.received_on,
        location="demo tank farm",
        density_lb_per_gal=round(density * each.density_factor, 3),
        density_temp_f=60.0,
        density_source=CERTIFICATE,
        state=State.OK if each.left_lb else State.EXHAUSTED,
        created_at=calendar.moment(each.received_on, _RECEIVED_AT),
    )


def _movement(
    lot: StockLot,
    kind: StockMovement.Kind,
    mass_lb: Decimal,
    day: date,
    worker: User,
    why: str = "",
) -> StockMovement:
    minutes = _RECEIVED_AT if kind == StockMovement.Kind.RECEIVED else _LOOKED_AT
    return StockMovement(
        kind=kind,
        lot=lot,
        mass_lb=mass_lb,
        key=f"demo-year-{kind}-{lot.code}",
        at=calendar.moment(day, minutes),
        by=worker,
        who=str(worker),
        why=why or f"{lot.supplier} {lot.supplier_lot}",
    )
