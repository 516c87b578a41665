"""The front of a batch ticket: the tank, the weights in charging order, fields to write in.

Read on a clipboard at arm's length with gloved hands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Table

from blendshop.documents import flowables, styles
from blendshop.documents.text import exact, markup
from blendshop.figures.readers import house
from orders.papers.view_models import BatchTicketView, ChargeStep, TicketLot

_WIDTH: Final = styles.CONTENT_WIDTH
_QR_SIDE: Final = 22 * mm
_FACT_LABEL: Final = 15 * mm
_STEP_COLUMN: Final = 8 * mm
_WEIGHT_COLUMN: Final = 23 * mm
_RUNNING_COLUMN: Final = 21 * mm
_LOT_COLUMN: Final = 30 * mm  # two of them, side by side
_INITIALS_COLUMN: Final = 13 * mm
_LOTS_ACROSS: Final = 2
_CELL_PADDING: Final = 0.5 * mm
_APPEARANCE: Final = "one clear phase, no crystals"
_NO_LOT: Final = "Lot:"


@dataclass(frozen=True, slots=True)
class FrontType:
    """How large the front is set.

    ``writing`` is the room below a lot for the weight, in points; ``readings`` the rows for them.
    """

    stock: ParagraphStyle
    detail: ParagraphStyle
    weight: ParagraphStyle
    within: ParagraphStyle
    running: ParagraphStyle
    step: ParagraphStyle
    writing: float
    readings: int


def _front_type(stock: float, weight: float, writing: float, readings: int) -> FrontType:
    def sized(base: ParagraphStyle, size: float, leading: float = 1.16) -> ParagraphStyle:
        name = f"{base.name}-{size:g}"
        return ParagraphStyle(name, parent=base, fontSize=size, leading=round(size * leading, 2))

    return FrontType(
        stock=sized(styles.TICKET_STOCK, stock),
        detail=sized(styles.SMALL, max(8.0, stock - 2)),
        weight=sized(styles.TICKET_WEIGHT, weight, 1.1),
        within=sized(styles.TICKET_WITHIN, max(9.0, weight - 5.5), 1.1),
        running=sized(styles.TICKET_RUNNING, min(12.0, weight - 2)),
        step=sized(styles.TICKET_STEP, weight - 2),
        writing=writing,
        readings=readings,
    )


#: Largest first. The least room to write is a quarter of an inch: common practice, no source.
#: A second row of readings is for after a correction.
TYPES: Final = (
    _front_type(13.0, 18.0, 14 * mm, 2),
    _front_type(12.0, 16.0, 10 * mm, 2),
    _front_type(10.5, 14.0, 6.8 * mm, 2),
    _front_type(10.5, 14.0, 6.8 * mm, 1),
    _front_type(9.5, 13.0, 6.4 * mm, 1),
)


def front(view: BatchTicketView, kind: FrontType, *, back_page: int) -> list[Flowable]:
    """What the load is charged from; ``back_page`` is where hazards and jar test are told."""
    return [
        _identification(view, back_page),
        flowables.gap(3),
        _caution(back_page),
        _before_charging(view, back_page),
        flowables.gap(3),
        _charging(view, kind),
        flowables.gap(5),
        _at_the_end(view, kind.readings),
    ]


def _identification(view: BatchTicketView, back_page: int) -> Table:
    text_width = _WIDTH - _QR_SIDE
    load = f"{house().volume(view.target_volume_gal, 1)}, {house().mass(view.target_mass_lb, 1)}"
    if view.heel_mass_lb > 0:
        load += f", of it {house().mass(view.heel_mass_lb, 1)} in the tank already"
    named = view.grade in view.product_name
    left = [
        flowables.prose(
            view.product_name if named else f"{view.product_name} {view.grade}", styles.TITLE
        ),
        flowables.facts(
            [("Tank", f"{view.tank_name}: {load}"), ("For", _whom_for(view, back_page))],
            text_width - styles.GUTTER,
            label_width=_FACT_LABEL,
            style=styles.TICKET,
            label_style=styles.TICKET_BOLD,
        ),
    ]
    code = flowables.QrCode(view.page_url, _QR_SIDE)
    return flowables.side_by_side([left, [code]], [text_width, _QR_SIDE])


def _whom_for(view: BatchTicketView, back_page: int) -> str:
    if len(view.parts) > 1:
        orders = ", ".join(part.order_number for part in view.parts)
        return f"{orders}; who gets what: page {back_page}"
    part = view.parts[0]
    return f"{part.order_number}, {part.customer_name}: {part.filling}"


def _caution(back_page: int) -> Flowable:
    """The usual words on one line (common practice, no source); the stocks' own stand behind."""
    words = (
        "Face shield and gloves on, each SDS read first. Acid into water, never water into acid."
        f" Hazards: page {back_page}."
    )
    return flowables.boxed([flowables.prose(words, styles.TICKET_CAUTION)], _WIDTH, tinted=True)


def _before_charging(view: BatchTicketView, back_page: int) -> Flowable:
    done = [
        "tank clean-out done",
        *(["jar test passed"] if view.jar_test_steps else []),
        "agitator and scale checked",  # common practice, no source
    ]
    ticks = "".join(f"  ☐ {each}" for each in done)
    return flowables.prose(f"Before charging (page {back_page}):{ticks}", styles.TICKET)


def _charging(view: BatchTicketView, kind: FrontType) -> Table:
    fixed = (
        _WEIGHT_COLUMN,
        _RUNNING_COLUMN,
        *([_LOT_COLUMN] * _LOTS_ACROSS),
        _INITIALS_COLUMN,
    )
    widths = [_STEP_COLUMN, _WIDTH - _STEP_COLUMN - sum(fixed), *fixed]
    header = [
        "",
        flowables.prose("Stock, charged in this order", styles.CAPTION),
        flowables.prose(
            "Weigh, lb (±)" if any(step.tolerance_lb for step in view.steps) else "Weigh, lb",
            styles.CAPTION_RIGHT,
        ),
        flowables.prose("Running, lb", styles.CAPTION_RIGHT),
        flowables.prose("Lot, and below it the actual lb", styles.CAPTION),
        "",
        flowables.prose("Initials", styles.CAPTION),
    ]
    finest = min(step.scale_step_lb for step in view.steps)
    rows, spans = [], [("SPAN", (4, 0), (5, 0))]
    for number, step in enumerate(view.steps, start=1):
        rows.append(_charge_row(number, step, finest, kind))
        if len(step.lots) < _LOTS_ACROSS:
            spans.append(("SPAN", (4, number), (5, number)))
    return flowables.ruled_table(
        header,
        rows,
        widths,
        cell_padding=_CELL_PADDING,
        grid=True,
        extra=[
            ("VALIGN", (0, 1), (3, -1), "MIDDLE"),
            ("LEFTPADDING", (0, 0), (0, -1), 1),
            ("RIGHTPADDING", (0, 0), (0, -1), 1),
            *spans,
        ],
    )


def _charge_row(number: int, step: ChargeStep, finest: float, kind: FrontType) -> list[object]:
    running = house().scale_weight(step.running_total_lb, finest)
    return [
        flowables.prose(str(number), kind.step),
        _stock(step, kind),
        _weight(step, kind),
        flowables.prose(running, kind.running),
        *_lot_cells(step, kind),
        "",
    ]


def _stock(step: ChargeStep, kind: FrontType) -> Paragraph:
    """Name, and small behind it code, gallons, scale and what to do."""
    gallons = "" if step.volume_gal is None else f"about {house().volume(step.volume_gal, 1)}"
    told = (exact(step.stock_code), gallons, markup(step.scale), markup(step.instruction))
    size, font = kind.detail.fontSize, kind.detail.fontName
    details = f'<font name="{font}" size="{size:g}">{" · ".join(filter(None, told))}</font>'
    return Paragraph(f"{markup(step.stock_name)} {details}", kind.stock)


def _weight(step: ChargeStep, kind: FrontType) -> list[Flowable]:
    weight = house().scale_weight(step.weight_lb, step.scale_step_lb)
    cell: list[Flowable] = [flowables.prose(weight, kind.weight)]
    if step.tolerance_lb is not None:
        within = house().scale_weight(step.tolerance_lb, step.scale_step_lb)
        cell.append(flowables.prose(f"± {within}", kind.within))
    return cell


def _lot_cells(step: ChargeStep, kind: FrontType) -> list[list[Flowable]]:
    """Two cells side by side; a third lot stands below the first, and so on."""
    room = flowables.gap(kind.writing)
    if not step.lots:
        return [[flowables.prose(_NO_LOT, styles.TICKET_LOT), room], []]
    cells: list[list[Flowable]] = [[] for _ in range(_LOTS_ACROSS)]
    for place, lot in enumerate(step.lots):
        words = _lot_words(lot, step)
        cells[place % _LOTS_ACROSS] += [flowables.prose(words, styles.TICKET_LOT), room]
    return cells


def _lot_words(lot: TicketLot, step: ChargeStep) -> str:
    """The lot to take, and how much of it where there are several."""
    if len(step.lots) == 1:
        return lot.code
    return f"{lot.code}: {house().scale_weight(lot.weight_lb, step.scale_step_lb)}"


def _at_the_end(view: BatchTicketView, readings: int) -> Table:
    """Readings, sample and names, on one page whatever came before."""
    cell = [_readings(view, readings), *_sample(view), flowables.gap(5), _sign_off()]
    return flowables.side_by_side([cell], [_WIDTH])


def _readings(view: BatchTicketView, count: int) -> Table:
    at = house().temperature(view.density_temperature_f)
    density = _window(view.density_low_lb_per_gal, view.density_high_lb_per_gal, 2)
    columns = (
        ("Temperature, °F", "", 0.15),
        (f"Density, lb/gal at {at}", density, 0.23),
        ("pH", _window(view.ph_low, view.ph_high, 1), 0.15),
        ("Looks", view.expected_appearance or _APPEARANCE, 0.25),
        ("Time", "", 0.11),
        ("Initials", "", 0.11),
    )
    header = [
        [
            flowables.prose(name, styles.CAPTION),
            *([flowables.prose(expected, styles.TICKET_LOT)] if expected else []),
        ]
        for name, expected, _ in columns
    ]
    blank = [""] * len(columns)
    return flowables.ruled_table(
        header,
        [blank] * count,
        [_WIDTH * share for _, _, share in columns],
        cell_padding=styles.READING_HEIGHT / 2 - styles.BODY.leading / 2,
        grid=True,
        extra=[("VALIGN", (0, 0), (-1, 0), "TOP")],
    )


def _window(low: float | None, high: float | None, places: int) -> str:
    """``10.60 to 10.85``; one-sided or unknown windows say so."""
    if low is None and high is None:
        return "no window given; record"
    if low is None or high is None:
        word, value = ("at least", low) if low is not None else ("at most", high)
        return f"{word} {house().number(value or 0.0, places)}"
    return f"{house().number(low, places)} to {house().number(high, places)}"


def _sample(view: BatchTicketView) -> list[Flowable]:
    if not view.retained_sample:
        return []
    return [flowables.gap(2), flowables.prose(f"Sample: {view.retained_sample}", styles.SMALL)]


def _sign_off() -> Table:
    fields = (
        ("Charged by", 0.2),
        ("Date, time", 0.12),
        ("Checked by", 0.2),
        ("Date, time", 0.12),
        ("Sample kept by", 0.17),
        ("Released by", 0.19),
    )
    return flowables.writing_fields(
        [caption for caption, _ in fields], [_WIDTH * share for _, share in fields]
    )
