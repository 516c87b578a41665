"""The tonnage report on Letter: tons by county and grade, the fee, and every shipment behind it."""

from __future__ import annotations

from datetime import date
from typing import Final

from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from blendshop.money import format_money
from formulas.engine.result import Severity
from orders.compliance.tonnage import Fee, Shipment, TonnageReport
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import PaperFinding
from orders.records import letterhead
from orders.records.letterhead import Plant

_TONS_COLUMNS: Final = (0.36, 0.28, 0.18, 0.18)
_SHIPMENT_COLUMNS: Final = (0.12, 0.14, 0.22, 0.12, 0.11, 0.08, 0.21)
_CAVEAT: Final = (
    "A work sheet for the state's own form. Which products, small packages and sales are exempt,"
    " when the report is due and what is owed, the state's text decides."
)


def render_tonnage(report: TonnageReport, plant: Plant, drawn_on: date, currency: str) -> bytes:
    """The report as a PDF. The same report gives the same bytes."""
    period = f"{house().date(report.first)} to {house().date(report.last)}"
    masthead = letterhead.masthead(
        plant, "Tonnage report", report.state, house().date(drawn_on), f"Tons shipped, {period}"
    )
    story: list[Flowable] = [
        flowables.facts(
            [("State", report.state), ("Shipped", period)], styles.CONTENT_WIDTH, label_width=70
        ),
        *flowables.section("Tons by county and grade", [_tons(report)]),
        *flowables.section("Fee", [_fee(report, currency)]),
        flowables.gap(),
        finding_box(PaperFinding(Severity.CAUTION, _CAVEAT)),
        *flowables.section("Shipments", [_shipments(report.shipments)] if report.shipments else []),
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _tons(report: TonnageReport) -> Flowable:
    header = [
        *(flowables.prose(text, styles.CAPTION) for text in ("County", "Grade")),
        *(flowables.prose(text, styles.CAPTION_RIGHT) for text in ("Pounds", "Tons of 2,000 lb")),
    ]
    rows = [
        [
            flowables.prose(row.county),
            flowables.verbatim(row.grade),
            flowables.prose(house().every_digit(row.lb), styles.BODY_RIGHT),
            flowables.prose(house().number(row.tons, 4), styles.BODY_RIGHT),
        ]
        for row in report.rows
    ]
    rows.append(
        [
            flowables.prose("Total", styles.BODY_BOLD),
            flowables.prose(""),
            flowables.prose(house().every_digit(report.lb), styles.BODY_BOLD_RIGHT),
            flowables.prose(house().number(report.tons, 4), styles.BODY_BOLD_RIGHT),
        ]
    )
    return flowables.ruled_table(header, rows, _widths(_TONS_COLUMNS))


def _fee(report: TonnageReport, currency: str) -> Flowable:
    fee = report.fee
    if fee is None:
        return flowables.prose(
            f"No rate of {report.state} is on file: the fee is not computed. Ask the state."
        )
    return flowables.facts(fee_facts(report, fee, currency), styles.CONTENT_WIDTH, label_width=110)


def fee_facts(report: TonnageReport, fee: Fee, currency: str) -> list[tuple[str, str]]:
    """Label and value of every step of the fee, for page and paper alike."""
    rate = format_money(fee.per_ton, currency, places=4)
    found = [
        (
            "Rate times tons",
            f"{rate} × {house().number(report.tons, 4)} = {format_money(fee.by_tons, currency)}",
        )
    ]
    if fee.minimum is not None:
        found.append(("Minimum per report", format_money(fee.minimum, currency)))
    found += [
        ("Fee", format_money(fee.due, currency)),
        ("Source", f"{fee.citation} ({fee.mark})"),
    ]
    return found


def _shipments(shipments: tuple[Shipment, ...]) -> Flowable:
    titles = ("Shipped", "Order", "Customer", "County", "Grade")
    header = [
        *(flowables.prose(text, styles.CAPTION) for text in titles),
        flowables.prose("Pounds", styles.CAPTION_RIGHT),
        flowables.prose("Weight", styles.CAPTION),
    ]
    rows = [
        [
            flowables.verbatim(shipment.shipped_on.isoformat(), styles.SMALL),
            flowables.verbatim(f"{shipment.order_number}/{shipment.position}", styles.SMALL),
            flowables.prose(shipment.customer, styles.SMALL),
            flowables.prose(shipment.county, styles.SMALL),
            flowables.verbatim(shipment.grade, styles.SMALL),
            flowables.prose(house().every_digit(shipment.lb), styles.BODY_RIGHT),
            flowables.prose(shipment.basis, styles.SMALL),
        ]
        for shipment in shipments
    ]
    return flowables.ruled_table(header, rows, _widths(_SHIPMENT_COLUMNS))


def _widths(shares: tuple[float, ...]) -> list[float]:
    return [share * styles.CONTENT_WIDTH for share in shares]
