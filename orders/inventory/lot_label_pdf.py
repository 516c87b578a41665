"""The label of a stock lot, for its tank, tote or drum.

Printed from the lot as it is today and not kept: it is stuck on and replaced, and what it says
stands in the lot's own record.
"""

from __future__ import annotations

from functools import partial
from typing import Final

from blendshop.documents.document import render
from blendshop.documents.label_stock import LabelStock, render_on_stock
from blendshop.documents.scan_label import ScanLabel, on_letter_page, on_stock
from blendshop.figures.readers import house
from orders.models import PlantProfile, StockLot
from orders.records import letterhead
from orders.records.letterhead import plant_block

_SMALL_PRINT: Final = "Read the SDS first; it decides. The supplier's label stays on the package."


def render_lot_label(lot: StockLot, stock: LabelStock | None = None) -> bytes:
    """One label, on letter paper without a ``stock``; its codes are what a scanner types."""
    plant, label = plant_block(PlantProfile.load()), _label(lot)
    if stock is not None:
        return render_on_stock(
            stock,
            [partial(on_stock, label, stock)],
            title=f"Lot label {lot.code}",
            author=plant.name,
            subject=f"Label of lot {lot.code}",
        )
    masthead = letterhead.masthead(plant, "Lot label", lot.code, "", f"Label of lot {lot.code}")
    return render(masthead, [on_letter_page(label)])


def _label(lot: StockLot) -> ScanLabel:
    stock = lot.stock
    known = [
        f"Received {house().date(lot.received_on)}",
        f"last day {house().date(lot.expires_on)}" if lot.expires_on else "",
        f"{lot.supplier}, lot {lot.supplier_lot}" if lot.supplier_lot else lot.supplier,
        lot.location,
    ]
    held = lot.state == StockLot.State.HELD
    return ScanLabel(
        code=lot.code,
        title=f"{stock.name} ({stock.code})",
        lines=("; ".join(part for part in known if part) + ".",),
        warnings=(
            *([f"HELD, not to be used: {lot.held_reason}"] if held else []),
            *([f"Hazards: {stock.hazards}"] if stock.hazards else []),
            *([f"Wear: {stock.ppe}"] if stock.ppe else []),
        ),
        small_print=_SMALL_PRINT,
    )
