"""The packing list of an order: packages with serials and weights, and cautions."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers import wording
from orders.papers.plant_view_models import PackedLine, PackingListView
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH


def render_packing_list(view: PackingListView) -> bytes:
    """The packing list as a PDF. The same view gives the same bytes."""
    reference = f"Your reference: {view.customer_reference}" if view.customer_reference else ""
    masthead = letterhead.masthead(
        view.plant, "Packing list", view.number, reference, f"Packages of {view.number}"
    )
    half = _WIDTH / 2
    parties = flowables.side_by_side(
        [
            [
                flowables.prose("Customer", styles.CAPTION),
                flowables.prose(letterhead.address(view.customer)),
            ],
            [
                flowables.prose("Ship to", styles.CAPTION),
                flowables.prose(letterhead.address(view.ship_to)),
            ],
        ],
        [half, half],
    )
    signature = flowables.writing_fields(
        ("Received complete and undamaged: name and signature", "Date"),
        [_WIDTH * 0.7, _WIDTH * 0.3],
    )
    said = [flowables.prose(f"Your note: {view.customer_note}")] if view.customer_note else []
    story: list[Flowable] = [
        parties,
        *said,
        *flowables.section("Packages", [_packages(view)]),
        *flowables.section("Cautions", flowables.bullets(view.cautions)),
        *flowables.section("Transport", [flowables.prose(view.transport, styles.BODY_BOLD)]),
        flowables.gap(styles.SECTION_GAP),
        signature,
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _packages(view: PackingListView) -> Table:
    header = [
        flowables.prose("Product, batch and serials", styles.CAPTION),
        flowables.prose("Package", styles.CAPTION),
        flowables.prose("Count", styles.CAPTION_RIGHT),
        flowables.prose("Net, lb", styles.CAPTION_RIGHT),
        flowables.prose("Gross, lb", styles.CAPTION_RIGHT),
    ]
    rows = [_row(line) for line in view.lines]
    count = sum(line.count for line in view.lines)
    net = sum((line.net_lb for line in view.lines), Decimal(0))
    gross = sum((line.gross_lb for line in view.lines), Decimal(0))
    rows.append(
        [
            flowables.prose("Together", styles.BODY_BOLD),
            "",
            flowables.prose(str(count), styles.BODY_BOLD_RIGHT),
            flowables.prose(house().every_digit(net), styles.BODY_BOLD_RIGHT),
            flowables.prose(house().every_digit(gross), styles.BODY_BOLD_RIGHT),
        ]
    )
    shares = (0.46, 0.2, 0.08, 0.13, 0.13)
    return flowables.ruled_table(header, rows, [_WIDTH * share for share in shares])


def _row(line: PackedLine) -> list[object]:
    listed = [f"{each.serial} ({house().weighed(each.net_lb)})" for each in line.packages]
    if line.not_weighed:
        mass = house().weighed(line.estimated_lb)
        listed.append(f"{house().every_digit(line.not_weighed)} not weighed ({mass}, estimated)")
    serials = "; ".join(listed)
    return [
        [
            flowables.prose(f"{line.product_name} {line.grade}", styles.BODY_BOLD),
            flowables.verbatim(f"Batch {line.batch_number}"),
            flowables.verbatim(serials, styles.SMALL),
        ],
        flowables.prose(line.package_name),
        flowables.prose(str(line.count), styles.BODY_RIGHT),
        flowables.prose(house().every_digit(line.net_lb), styles.BODY_RIGHT),
        flowables.prose(house().every_digit(line.gross_lb), styles.BODY_RIGHT),
    ]
