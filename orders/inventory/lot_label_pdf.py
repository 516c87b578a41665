"""The label of a stock lot, for its tank, tote or drum.

Printed from the lot as it is today and not kept: it is stuck on and replaced, and what it says
stands in the lot's own record.
"""

from __future__ import annotations

from typing import Final

from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.documents.scan_label import scan_label
from blendshop.figures.readers import house
from orders.models import PlantProfile, StockLot
from orders.records import letterhead
from orders.records.letterhead import plant_block

_SMALL_PRINT: Final = (
    "Read the SDS before opening; the SDS decides. This label names the lot; it is not the"
    " supplier's label, which stays on the package."
)


def render_lot_label(lot: StockLot) -> bytes:
    """One label; the code is what the charging screen's scanner types."""
    stock = lot.stock
    known = [
        f"Received {house().date(lot.received_on)}",
        f"last day {house().date(lot.expires_on)}" if lot.expires_on else "",
        f"{lot.supplier}, lot {lot.supplier_lot}" if lot.supplier_lot else lot.supplier,
        lot.location,
    ]
    lines: list[Flowable] = [
        flowables.prose(f"{stock.name} ({stock.code})", styles.TICKET_BOLD),
        flowables.prose("; ".join(part for part in known if part) + ".", styles.BODY),
        *_worded("Hazards", stock.hazards),
        *_worded("Wear", stock.ppe),
    ]
    if lot.state == StockLot.State.HELD:
        lines.append(flowables.prose(f"HELD, not to be used: {lot.held_reason}", styles.BODY_BOLD))
    masthead = letterhead.masthead(
        plant_block(PlantProfile.load()), "Lot label", lot.code, "", f"Label of lot {lot.code}"
    )
    return render(masthead, [scan_label(lot.code, lines, _SMALL_PRINT)])


def _worded(caption: str, text: str) -> list[Flowable]:
    return [flowables.prose(f"{caption}: {text}", styles.BODY)] if text else []
