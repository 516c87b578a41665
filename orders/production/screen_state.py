"""What the charging screen's script needs to go on weighing while the network is away."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any, Final

from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.figures.readers import reader
from formulas.engine.plant.as_made import AsMade
from orders.models import Batch, StockLot
from orders.production.step_rows import StepRow, lot_words

#: Lots of a stock that are offered to be chosen; any other is scanned.
LOTS_OFFERED: Final = 3

#: By step, by lot: whether the weights as they stand keep every promise with the lot.
LotsKeep = Mapping[int, Mapping[str, bool]]


def screen_state(
    batch: Batch,
    user: User,
    rows: Sequence[StepRow],
    made: AsMade | None,
    lots_keep: LotsKeep,
    today: date,
) -> dict[str, Any]:
    """Plain values; pounds as text, so that the script counts them exactly.

    ``made`` is what is in the tank. ``person`` signs what is typed at this screen.
    """
    codes = {row.step.code for row in rows}
    return {
        "batch": batch.number,
        "status": batch.status,
        "status_words": batch.get_status_display(),
        "person": {"id": user.pk, "name": str(user)},
        "tank": {
            "name": batch.tank.name,
            "capacity_gal": batch.tank.capacity_gal,
            "gal": 0.0 if made is None else made.volume_gal,
        },
        "steps": [_step(row, lots_keep.get(row.number, {})) for row in rows],
        "lots_on_hand": _lots_to_charge(codes, today),
        "other_lots": _other_lots(codes),
    }


def _step(row: StepRow, lots_keep: Mapping[str, bool]) -> dict[str, Any]:
    step = row.step
    return {
        "number": step.number,
        "name": step.name,
        "code": step.code,
        "instruction": step.instruction,
        "ppe": row.ppe,
        "wear": row.wear,
        "target": str(step.target_lb),
        "charged": str(step.charged_lb),
        "tolerance": str(step.tolerance_lb),
        "scale": row.scale,
        "is_fine": step.is_on_fine_scale,
        "gal_per_lb": 1.0 / step.figures.density_lb_per_gal,
        "needs_lot": row.needs_lot,
        "lots": offered_lots(row),
        "lots_keep": dict(lots_keep),
    }


def offered_lots(row: StepRow) -> list[dict[str, str]]:
    """The lots to take first, as the screen names them."""
    return [{"code": lot.code, "text": lot_words(lot)} for lot in row.lots[:LOTS_OFFERED]]


def _lots_to_charge(codes: Collection[str], today: date) -> list[dict[str, Any]]:
    """Every lot of the batch's stocks with something in it."""
    of_stocks = StockLot.objects.filter(on_hand_lb__gt=0, stock__code__in=codes)
    lots = of_stocks.prefetch_related("stock__traits").order_by("pk")
    return [
        {
            "code": lot.code,
            "stock": lot.stock.code,
            "name": lot.stock.name,
            "text": lot_words(lot),
            "gal_per_lb": 1.0 / lot.density(),
            "why_not": _why_not(lot, today),
        }
        for lot in lots
    ]


def _other_lots(codes: Collection[str]) -> list[dict[str, Any]]:
    """The codes of all other lots by stock, so that a wrong one is named at the scan.

    A plant may have thousands: nothing is said of them beyond their stock.
    """
    others = StockLot.objects.filter(on_hand_lb__gt=0).exclude(stock__code__in=codes)
    rows = others.order_by("stock__code", "pk").values_list("stock__code", "stock__name", "code")
    return [
        {"stock": stock, "name": name, "codes": [code for _stock, _name, code in lots]}
        for (stock, name), lots in groupby(rows, key=itemgetter(0, 1))
    ]


def _why_not(lot: StockLot, today: date) -> str:
    """Why the lot may not be charged; empty when it may."""
    if lot.state == StockLot.State.HELD:
        return _("is held: %(held_reason)s") % {"held_reason": lot.held_reason}
    if lot.expires_on is not None and lot.expires_on < today:
        return _("expired on %(expires_on)s.") % {"expires_on": reader().date(lot.expires_on)}
    return ""
