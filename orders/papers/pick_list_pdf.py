"""The pick list: which lots to bring to the tank, first to expire first."""

from __future__ import annotations

from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers.plant_view_models import PickLine, PickListView
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_DONE_COLUMN: Final = 22 * mm
_WEIGHT_COLUMN: Final = 32 * mm


def render_pick_list(view: PickListView) -> bytes:
    """The pick list as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Pick list",
        view.number,
        house().date(view.picked_for),
        f"Stocks for {view.product_name}",
    )
    widths = [0.0, _WEIGHT_COLUMN, 70 * mm, _DONE_COLUMN]
    widths[0] = _WIDTH - sum(widths)
    header = [
        flowables.prose("Stock", styles.CAPTION),
        flowables.prose("Bring, lb", styles.CAPTION_RIGHT),
        flowables.prose("From lots, in this order", styles.CAPTION),
        flowables.prose("Picked", styles.CAPTION),
    ]
    story: list[Flowable] = [
        flowables.prose(f"{view.product_name} in {view.tank_name}", styles.TITLE),
        flowables.gap(styles.SECTION_GAP),
        flowables.ruled_table(
            header, [_row(line) for line in view.lines], widths, cell_padding=2.4 * mm, grid=True
        ),
        flowables.gap(),
        flowables.prose(
            "Take no lot that is held or past its last day. Read each stock's SDS before moving"
            " it.",
            styles.TICKET,
        ),
    ]
    return render(masthead, story)


def _row(line: PickLine) -> list[object]:
    name: list[Flowable] = [
        flowables.prose(line.stock_name, styles.TICKET_STOCK),
        flowables.verbatim(line.stock_code, styles.BODY),
    ]
    if line.note:
        name.append(flowables.prose(line.note, styles.BODY_BOLD))
    lots = [flowables.verbatim(lot, styles.TICKET) for lot in line.lots]
    return [
        name,
        flowables.prose(house().every_digit(line.weight_lb), styles.TICKET_WEIGHT),
        lots or [flowables.prose("no usable lot on hand", styles.TICKET_BOLD)],
        "",
    ]
