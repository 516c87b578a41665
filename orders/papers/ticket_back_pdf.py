"""Behind a batch ticket's front: protection, clean-out, cautions, jar test, and who gets what."""

from __future__ import annotations

from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.figures.readers import house
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import BatchTicketView, LoadPartLine, StockSafety

_WIDTH: Final = styles.CONTENT_WIDTH
_FACT_LABEL: Final = 30 * mm
_BOX_INSIDE: Final = _WIDTH - 2 * styles.BOX_PADDING
_PPE_FLOOR: Final = (
    "Read each stock's SDS before opening it. Wear at least chemical-splash goggles under a face"
    " shield, and chemical-resistant gloves. Add acid to water, never water to acid. Know where"
    " the eyewash and the safety shower are."  # common practice, no source
)


def back(view: BatchTicketView) -> list[Flowable]:
    """What is read before the first weight, then what the front has no room for."""
    heading = styles.TICKET_HEADING
    return [
        *flowables.section("Protection and hazards", _safety(view), heading),
        *flowables.section("Tank clean-out", [_cleanout(view)], heading),
        *flowables.section("Mixing cautions", _findings(view), heading),
        *flowables.section("Jar test before charging", _jar_test(view), heading),
        *flowables.section("Lots that are not as usual", _lots(view), heading),
        *flowables.section("About this load", [_about(view)], heading),
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]


def _safety(view: BatchTicketView) -> list[Flowable]:
    floor = flowables.prose(_PPE_FLOOR, styles.TICKET_BOLD)
    if not view.safety:
        return [floor]
    rows = [_safety_row(stock) for stock in view.safety]
    header = [flowables.prose(text, styles.CAPTION) for text in ("Stock", "Hazards", "Wear")]
    widths = [_WIDTH * part for part in (0.26, 0.44, 0.30)]
    return [floor, flowables.gap(), flowables.ruled_table(header, rows, widths)]


def _safety_row(stock: StockSafety) -> list[object]:
    hazards: list[Flowable] = [
        flowables.prose(f"{'. '.join(stock.hazards)}." if stock.hazards else "see SDS")
    ]
    if stock.source:
        hazards.append(flowables.prose(f"Source: {stock.source}", styles.SMALL_ITALIC))
    return [
        [
            flowables.prose(stock.stock_name, styles.BODY_BOLD),
            flowables.verbatim(stock.stock_code, styles.SMALL),
        ],
        hazards,
        flowables.prose("; ".join(stock.ppe) or "see SDS"),
    ]


def _cleanout(view: BatchTicketView) -> Flowable:
    previous = view.previous_product or "not known, ask before charging"
    lines: list[Flowable] = [
        flowables.prose(f"Previous product in this tank: {previous}", styles.TICKET),
    ]
    if view.cleanout_instruction:
        lines.append(flowables.prose(view.cleanout_instruction, styles.TICKET))
    fields = ("Rinsed by", "Time", "Rinsate went to")
    lines += [
        flowables.gap(),
        flowables.writing_fields(fields, [_BOX_INSIDE * part for part in (0.42, 0.2, 0.38)]),
    ]
    return flowables.boxed(lines, _WIDTH)


def _findings(view: BatchTicketView) -> list[Flowable]:
    return [finding_box(finding, styles.TICKET) for finding in view.findings]


def _jar_test(view: BatchTicketView) -> list[Flowable]:
    if not view.jar_test_steps:
        return []
    result = "☐ stays one even liquid\n☐ layers, crystals, gel, gas or heat: stop, do not charge"
    box = flowables.boxed(
        [
            *flowables.numbered(view.jar_test_steps, styles.TICKET),
            flowables.gap(),
            flowables.prose(result, styles.TICKET_BOLD),
            flowables.gap(),
            flowables.writing_fields(
                ("Tested by", "Time"), [_BOX_INSIDE * part for part in (0.6, 0.4)]
            ),
        ],
        _WIDTH,
        heavy=True,
    )
    return [box]


def _lots(view: BatchTicketView) -> list[Flowable]:
    """What certificates say otherwise than the stocks' typical figures; the plan counts on it."""
    return flowables.bullets(
        [
            f"Lot {lot.code}, {step.stock_name}: {'; '.join(lot.differs)}"
            for step in view.steps
            for lot in step.lots
            if lot.differs
        ],
        styles.BODY,
    )


def _about(view: BatchTicketView) -> Flowable:
    """One order as its own facts, several as one line each."""
    facts = [
        ("Blend", view.blend_reference),
        *_fills(view.parts),
        ("On target", view.on_target),
        ("Notes", view.notes),
        ("Planned", house().date(view.planned_on)),
        ("Batch page", view.page_url),
    ]
    known = [(label, value) for label, value in facts if value]
    return flowables.facts(known, _WIDTH, label_width=_FACT_LABEL)


def _fills(parts: tuple[LoadPartLine, ...]) -> list[tuple[str, str]]:
    if len(parts) == 1:
        part = parts[0]
        return [
            ("Customer", part.customer_name),
            ("Order", part.order_number),
            ("Package", part.filling),
        ]
    return [(f"Part {number}", _whose(part)) for number, part in enumerate(parts, start=1)]


def _whose(part: LoadPartLine) -> str:
    volume = house().volume(part.volume_gal, 1)
    return f"{part.order_number}, {part.customer_name}: {part.filling}, {volume}"
