"""The batch ticket: what the plant weighs, in which order, with what protection and checks.

Read on a clipboard with gloved hands: large figures, room to write. No field of
``BatchTicketView`` holds a price.
"""

from __future__ import annotations

from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers import wording
from orders.papers.finding_box import finding_box
from orders.papers.view_models import BatchTicketView, ChargeStep, StockSafety, TicketLot
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_QR_SIDE: Final = 36 * mm
_FACT_LABEL: Final = 30 * mm
_STEP_COLUMN: Final = 10 * mm
_WEIGHT_COLUMN: Final = 24 * mm
_RUNNING_COLUMN: Final = 23 * mm
_ACTUAL_COLUMN: Final = 24 * mm
_LOT_COLUMN: Final = 26 * mm
_INITIALS_COLUMN: Final = 16 * mm
_ROW_PADDING: Final = 2.8 * mm  # a row is tall enough to write in with gloves
_FIRST_ROW_ROOM: Final = 60 * mm  # heading, header row and a stock name of 120 characters
_CHECK_PADDING: Final = 2.1 * mm
_BOX_INSIDE: Final = _WIDTH - 2 * styles.BOX_PADDING
_PPE_FLOOR: Final = (
    "Read each stock's SDS before opening it. Wear at least chemical-splash goggles and"
    " chemical-resistant gloves. Add acid to water, never water to acid. Know where the eyewash"
    " and the safety shower are."  # common practice, no source
)


def render_batch_ticket(view: BatchTicketView) -> bytes:
    """The batch ticket as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Batch ticket",
        view.number,
        f"Planned for {house().date(view.planned_on)}",
        f"Batch ticket for {view.product_name}",
    )
    heading = styles.TICKET_HEADING
    story: list[Flowable] = [
        _identification(view),
        *flowables.section("Tank clean-out", [_cleanout(view)], heading),
        *flowables.section("Protection and hazards", _safety(view), heading),
        *flowables.section("Mixing cautions", _findings(view), heading),
        *flowables.section("Jar test before charging", _jar_test(view), heading),
        *flowables.breaking_section(
            "Weigh and charge in this order",
            _charging(view),
            heading,
            first_row_room=_FIRST_ROW_ROOM,
        ),
        *([flowables.prose(view.on_target, styles.SMALL)] if view.on_target else []),
        *flowables.section("Checks", [_checks(view)], heading),
        *flowables.section("Sign-off", [_sign_off()], heading),
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _identification(view: BatchTicketView) -> Table:
    text_width = _WIDTH - _QR_SIDE
    inner_width = text_width - styles.GUTTER
    target = f"{house().volume(view.target_volume_gal, 1)}, {house().mass(view.target_mass_lb, 1)}"
    if view.heel_mass_lb > 0:
        target += f", of it {house().mass(view.heel_mass_lb, 1)} in the tank already"
    pairs = [
        ("Blend", view.blend_reference),
        ("Grade", view.grade),
        *_fills(view),
        ("Tank", view.tank_name),
        ("Target", target),
        ("Notes", view.notes),
    ]
    known = [(label, value) for label, value in pairs if value]
    left = [
        flowables.prose(view.product_name, styles.TITLE),
        flowables.gap(3),
        flowables.facts(
            known,
            inner_width,
            label_width=_FACT_LABEL,
            style=styles.TICKET,
            label_style=styles.TICKET_BOLD,
        ),
        flowables.verbatim(view.page_url, styles.SMALL),
    ]
    right = [
        flowables.QrCode(view.page_url, _QR_SIDE),
        flowables.prose("Scan for this batch", styles.CENTERED_SMALL),
    ]
    return flowables.side_by_side([left, right], [text_width, _QR_SIDE])


def _fills(view: BatchTicketView) -> list[tuple[str, str]]:
    """For whom the load is: one order as its own facts, several as one line each."""
    if len(view.parts) == 1:
        part = view.parts[0]
        return [
            ("Customer", part.customer_name),
            ("Order", part.order_number),
            ("Package", part.filling),
        ]
    return [
        (
            f"Part {number}",
            ", ".join(
                [
                    f"{part.order_number}, {part.customer_name}: {part.filling}",
                    house().volume(part.volume_gal, 1),
                ]
            ),
        )
        for number, part in enumerate(view.parts, start=1)
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


def _safety(view: BatchTicketView) -> list[Flowable]:
    floor = flowables.prose(_PPE_FLOOR, styles.TICKET_BOLD)
    if not view.safety:
        return [floor]
    rows = [_safety_row(stock) for stock in view.safety]
    header = [flowables.prose(text, styles.CAPTION) for text in ("Stock", "Hazards", "Wear")]
    widths = [_WIDTH * part for part in (0.26, 0.44, 0.30)]
    return [floor, flowables.gap(), flowables.ruled_table(header, rows, widths)]


def _safety_row(stock: StockSafety) -> list[object]:
    hazards: list[Flowable] = [flowables.prose("; ".join(stock.hazards) or "see SDS")]
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


def _charging(view: BatchTicketView) -> Table:
    fixed = (
        _STEP_COLUMN,
        _WEIGHT_COLUMN,
        _RUNNING_COLUMN,
        _ACTUAL_COLUMN,
        _LOT_COLUMN,
        _INITIALS_COLUMN,
    )
    widths = [fixed[0], _WIDTH - sum(fixed), *fixed[1:]]
    header = [
        flowables.prose("Step", styles.CAPTION),
        flowables.prose("Stock", styles.CAPTION),
        flowables.prose("Weigh, lb", styles.CAPTION_RIGHT),
        flowables.prose("Running, lb", styles.CAPTION_RIGHT),
        flowables.prose("Actual, lb", styles.CAPTION),
        flowables.prose("Lot number", styles.CAPTION),
        flowables.prose("Initials", styles.CAPTION),
    ]
    finest = min(step.scale_step_lb for step in view.steps)
    rows = [_charge_row(number, step, finest) for number, step in enumerate(view.steps, start=1)]
    return flowables.ruled_table(
        header,
        rows,
        widths,
        cell_padding=_ROW_PADDING,
        grid=True,
        extra=[("VALIGN", (0, 1), (-1, -1), "MIDDLE"), ("LEFTPADDING", (0, 0), (0, -1), 1)],
    )


def _charge_row(number: int, step: ChargeStep, finest_step_lb: float) -> list[object]:
    stock: list[Flowable] = [
        flowables.prose(step.stock_name, styles.TICKET_STOCK),
        flowables.verbatim(step.stock_code, styles.BODY),
    ]
    if step.volume_gal is not None:
        gallons = f"about {house().volume(step.volume_gal, 1)}"
        stock[-1] = flowables.verbatim(f"{step.stock_code} · {gallons}", styles.BODY)
    if step.instruction:
        stock.append(flowables.prose(step.instruction, styles.BODY_BOLD))
    stock += [_lot(lot, step) for lot in step.lots]
    weight: list[Flowable] = [
        flowables.prose(
            house().scale_weight(step.weight_lb, step.scale_step_lb), styles.TICKET_WEIGHT
        )
    ]
    if step.tolerance_lb is not None:
        within = house().scale_weight(step.tolerance_lb, step.scale_step_lb)
        weight.append(flowables.prose(f"± {within}", styles.TICKET_WITHIN))
    if step.scale:
        weight.append(flowables.prose(step.scale, styles.TICKET_SCALE))
    running = house().scale_weight(step.running_total_lb, finest_step_lb)
    return [
        flowables.prose(str(number), styles.TICKET_STEP),
        stock,
        weight,
        flowables.prose(running, styles.TICKET_RUNNING),
        "",
        "",
        "",
    ]


def _lot(lot: TicketLot, step: ChargeStep) -> Flowable:
    """The lot to take, how much of it where there are several, and what its certificate differs."""
    words = f"Lot {lot.code}"
    if len(step.lots) > 1:
        words += f": {house().scale_weight(lot.weight_lb, step.scale_step_lb)} lb"
    if lot.differs:
        words += f" ({'; '.join(lot.differs)})"
    return flowables.prose(words, styles.BODY)


def _window(low: float | None, high: float | None, places: int, unit: str) -> str:
    """``10.60 to 10.85 lb/gal``; one-sided or unknown windows say so."""
    unit = f" {unit}" if unit else ""
    if low is None and high is None:
        return "no window given; record"
    if low is None or high is None:
        word, value = ("at least", low) if low is not None else ("at most", high)
        return f"{word} {house().number(value or 0.0, places)}{unit}"
    return f"{house().number(low, places)} to {house().number(high, places)}{unit}"


def _checks(view: BatchTicketView) -> Table:
    density = (
        _window(view.density_low_lb_per_gal, view.density_high_lb_per_gal, 2, "lb/gal")
        + f" at {house().temperature(view.density_temperature_f)}"
    )
    expected = [
        ("Temperature, °F", "record with every reading"),
        ("Density", density),
        ("pH", _window(view.ph_low, view.ph_high, 1, "")),
        ("Appearance", view.expected_appearance or "one clear phase, no crystals"),
        ("Sample retained", view.retained_sample or "label with the batch number"),
    ]
    header = [
        flowables.prose(text, styles.CAPTION)
        for text in ("Check", "Expected", "Reading", "Time", "Initials")
    ]
    rows = [
        [
            flowables.prose(name, styles.TICKET_BOLD),
            flowables.prose(text, styles.TICKET),
            "",
            "",
            "",
        ]
        for name, text in expected
    ]
    widths = [34 * mm, 0.0, 40 * mm, 22 * mm, 20 * mm]
    widths[1] = _WIDTH - sum(widths)
    return flowables.ruled_table(
        header,
        rows,
        widths,
        cell_padding=_CHECK_PADDING,
        grid=True,
        extra=[("VALIGN", (0, 1), (-1, -1), "MIDDLE")],
    )


def _sign_off() -> Flowable:
    header = [
        flowables.prose(text, styles.CAPTION) for text in ("", "Name and signature", "Date", "Time")
    ]
    rows: list[list[Paragraph | str]] = [
        [flowables.prose(text, styles.TICKET_BOLD), "", "", ""]
        for text in ("Charged by", "Checked by", "Released by")
    ]
    widths = [34 * mm, 0.0, 34 * mm, 26 * mm]
    widths[1] = _WIDTH - sum(widths)
    table = flowables.ruled_table(header, rows, widths, cell_padding=_CHECK_PADDING, grid=True)
    return table
