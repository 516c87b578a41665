"""The purchase list on Letter: a table for each supplier, and that it is no order."""

from __future__ import annotations

from typing import Final

from django.utils.formats import date_format
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from formulas.engine.result import Severity
from orders.buying.purchase_list import PurchaseLine, PurchaseList, SupplierList
from orders.models import StockPurchase
from orders.papers.finding_box import finding_box
from orders.papers.view_models import PaperFinding
from orders.records import letterhead
from orders.records.letterhead import Plant

_COLUMNS: Final = (0.12, 0.26, 0.16, 0.12, 0.10, 0.10, 0.14)
#: A heading, the head of a table and its first row stay together.
_FIRST_ROW_ROOM: Final = 80.0
_NO_SUPPLIER: Final = "No supplier terms entered"
_BASIS: Final = (
    "Bookings and season plans that are not reserved, and where those are less what the same weeks"
    " took a year ago; costs as last entered, without freight. Purchases that"
    " are written down as on the way are taken off."
)


def render_purchase_list(purchases: PurchaseList, plant: Plant, currency: str) -> bytes:
    """The list as a PDF. The same list gives the same bytes."""
    day = house().date(purchases.today)
    number = f"{purchases.today.isoformat()}, {purchases.weeks} weeks"
    masthead = letterhead.masthead(
        plant, "Purchase list", number, day, "What to buy", "A proposal; not an order"
    )
    story: list[Flowable] = [
        flowables.facts(
            [
                ("For", f"the {purchases.weeks} weeks from {day}"),
                ("Total", _total(purchases, currency)),
            ],
            styles.CONTENT_WIDTH,
            label_width=70,
        ),
        finding_box(PaperFinding(Severity.INFO, _BASIS)),
    ]
    for supplier in purchases.suppliers:
        story += flowables.breaking_section(
            supplier.supplier or _NO_SUPPLIER,
            _table(supplier, currency),
            styles.HEADING,
            first_row_room=_FIRST_ROW_ROOM,
        )
    if purchases.on_the_way:
        story += flowables.section(
            "On the way", flowables.bullets([_on_the_way(each) for each in purchases.on_the_way])
        )
    if not purchases.suppliers:
        story.append(flowables.prose("Nothing has to be bought for these weeks."))
    return render(masthead, story)


def _table(supplier: SupplierList, currency: str) -> Table:
    left, right = styles.CAPTION, styles.CAPTION_RIGHT
    header = [
        flowables.prose("Order by", left),
        flowables.prose("Stock", left),
        flowables.prose("Packs", left),
        *(flowables.prose(text, right) for text in ("Pounds", "Gallons", "Per lb", "Total")),
    ]
    rows: list[list[Flowable]] = [_row(line, currency) for line in supplier.lines]
    rows.append(
        [
            flowables.prose("Together", styles.BODY_BOLD),
            flowables.prose(""),
            flowables.prose(""),
            flowables.prose(house().every_digit(supplier.lb), styles.BODY_BOLD_RIGHT),
            flowables.prose(""),
            flowables.prose(""),
            flowables.prose(_total(supplier, currency), styles.BODY_BOLD_RIGHT),
        ]
    )
    return flowables.ruled_table(header, rows, [share * styles.CONTENT_WIDTH for share in _COLUMNS])


def _row(line: PurchaseLine, currency: str) -> list[Flowable]:
    buy, part, terms = line.proposal, line.part, line.terms
    packs = f"{part.packs} × {house().every_digit(terms.pack_lb)} lb" if terms else "not known"
    said = (buy.stock.name, terms.price_note if terms else "", _which(line), _planned(line))
    note = ". ".join(filter(None, said))
    per_lb = "" if line.cost_per_lb is None else house().unit_price(line.cost_per_lb, currency)
    by = date_format(line.order_by, "D, M j")
    total = "not known" if line.total is None else house().money(line.total, currency)
    return [
        flowables.verbatim("today" if line.is_due else by, styles.SMALL),
        flowables.prose(f"{buy.stock.code} {note}", styles.SMALL),
        flowables.verbatim(packs, styles.SMALL),
        flowables.prose(house().every_digit(part.lb), styles.BODY_RIGHT),
        flowables.prose(house().number(line.gal, 1), styles.BODY_RIGHT),
        flowables.prose(per_lb, styles.BODY_RIGHT),
        flowables.prose(total, styles.BODY_RIGHT),
    ]


def _which(line: PurchaseLine) -> str:
    """Which of several purchases, and where one had to do or does not fit."""
    told = []
    if line.of_parts > 1:
        told.append(f"Purchase {line.number} of {line.of_parts}")
    elif line.proposal.is_of_unknown_storage:
        told.append("One purchase: storage not entered")
    if line.part.is_over_storage:
        told.append("More than the storage takes")
    return ". ".join(told)


def _planned(line: PurchaseLine) -> str:
    """What plans nobody reserved would take; said once for a stock."""
    planned = line.proposal.planned
    if not planned or line.number > 1:
        return ""
    return f"Season plans, not reserved: {house().number(planned, 0)} lb"


def _on_the_way(each: StockPurchase) -> str:
    lb, day = house().every_digit(each.lb), date_format(each.expected_on, "D, M j")
    return f"{each.stock.code}: {lb} lb from {each.supplier}, expected {day}"


def _total(of: PurchaseList | SupplierList, currency: str) -> str:
    written = house().money(of.total, currency)
    return f"{written}, without what has no cost" if of.has_unknown_cost else written
