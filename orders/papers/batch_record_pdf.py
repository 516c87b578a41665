"""The batch record: plan against actual, lots, readings, who and when, as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers import wording
from orders.papers.plant_view_models import BatchRecordView, RecordCharge, RecordReading
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_FACT_LABEL: Final = 30 * mm
_ROOM: Final = 40 * mm


def render_batch_record(view: BatchRecordView) -> bytes:
    """The batch record as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Batch record",
        view.number,
        f"State when printed: {view.state}",
        f"Record of {view.product_name}",
    )
    story: list[Flowable] = [
        flowables.prose(view.product_name, styles.TITLE),
        flowables.gap(3),
        _facts(view),
        *_section("Plan against actual", _steps(view)),
        *_section("Charges and lots", _charges(view)),
        *_section("As made, against the guarantees", _guarantees(view)),
        *(_section("As made, against the maxima", _maxima(view)) if view.maxima else []),
        flowables.gap(),
        *([_analysis(view)] if view.analysis else []),
        *flowables.section("Readings", _readings(view)),
        *_section("Packages", _packages(view)),
        *flowables.section("Balance and rinse", _balance(view)),
        *_section("Who and when", _events(view)),
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _facts(view: BatchRecordView) -> Table:
    pairs = [
        ("Blend", f"{view.blend_reference}, {view.grade}"),
        *(
            (
                "Customer" if len(view.parts) == 1 else f"Part {number}",
                f"{part.customer_name}, order {part.order_number}: {part.filling}",
            )
            for number, part in enumerate(view.parts, start=1)
        ),
        ("Tank", view.tank_name),
        ("Planned on", house().date(view.planned_on)),
        ("Planned", house().weighed(view.planned_lb)),
        ("Charged", house().weighed(view.charged_lb)),
        *([("Charged onto", view.heel)] if view.heel else []),
        *([("Density", view.density)] if view.density else []),
        *([("Lowered", view.lowered)] if view.lowered else []),
    ]
    return flowables.facts(pairs, _WIDTH, label_width=_FACT_LABEL)


def _section(title: str, table: Table | None) -> list[Flowable]:
    if table is None:
        return []
    return flowables.breaking_section(title, table, styles.HEADING, first_row_room=_ROOM)


def _table(
    captions: Sequence[tuple[str, bool]], rows: Sequence[Sequence[object]], shares: Sequence[float]
) -> Table | None:
    """Captions with whether their column is of figures; None without rows."""
    if not rows:
        return None
    header = [
        flowables.prose(text, styles.CAPTION_RIGHT if is_figure else styles.CAPTION)
        for text, is_figure in captions
    ]
    cells = [
        [
            flowables.prose(str(cell), styles.BODY_RIGHT if is_figure else styles.BODY)
            for cell, (_, is_figure) in zip(row, captions, strict=True)
        ]
        for row in rows
    ]
    return flowables.ruled_table(header, cells, [_WIDTH * share for share in shares])


def _steps(view: BatchRecordView) -> Table | None:
    rows = [
        (
            step.number,
            f"{step.stock_name} ({step.stock_code})" + (f". {step.why}" if step.why else ""),
            house().every_digit(step.planned_lb),
            house().every_digit(step.actual_lb),
            step.words,
        )
        for step in view.steps
    ]
    captions = (
        ("Step", False), ("Stock", False), ("Planned, lb", True), ("Actual, lb", True),
        ("Stands", False),
    )  # fmt: skip
    return _table(captions, rows, (0.07, 0.47, 0.14, 0.14, 0.18))


def _charges(view: BatchRecordView) -> Table | None:
    rows = [
        (
            charge.step,
            charge.stock_code,
            _lot(charge),
            house().every_digit(charge.mass_lb),
            f"{charge.who}, {charge.at}"
            + (f". Reversed: {charge.reversed_because}" if charge.reversed_because else ""),
        )
        for charge in view.charges
    ]
    captions = (
        ("Step", False), ("Stock", False), ("Lot (supplier's lot)", False), ("Weighed, lb", True),
        ("By", False),
    )  # fmt: skip
    return _table(captions, rows, (0.07, 0.15, 0.28, 0.14, 0.36))


def _lot(charge: RecordCharge) -> str:
    if not charge.lot:
        return "water from the main"
    return f"{charge.lot} ({charge.supplier_lot})" if charge.supplier_lot else charge.lot


def _guarantees(view: BatchRecordView) -> Table | None:
    rows = [
        (check.name, *wording.against(check.guaranteed_pct, check.made_pct), check.words)
        for check in view.guarantees
    ]
    captions = (
        ("Guarantee", False), ("At least, %", True), ("Made, %", True), ("Stands", False),
    )  # fmt: skip
    return _table(captions, rows, (0.38, 0.14, 0.14, 0.34))


def _maxima(view: BatchRecordView) -> Table | None:
    rows = [
        (check.name, *wording.against(check.most_pct, check.made_pct, is_most=True), check.words)
        for check in view.maxima
    ]
    captions = (
        ("Maximum", False), ("At most, %", True), ("Made, %", True), ("Stands", False),
    )  # fmt: skip
    return _table(captions, rows, (0.38, 0.14, 0.14, 0.34))


def _analysis(view: BatchRecordView) -> Flowable:
    parts = ", ".join(f"{each.label} {house().percent(each.pct, 2)}" for each in view.analysis)
    return flowables.prose(
        f"Analysis as made, from the weights charged and the lots' certificates: {parts}."
    )


def _readings(view: BatchRecordView) -> list[Flowable]:
    return [flowables.prose(_reading(reading)) for reading in view.readings]


def _reading(reading: RecordReading) -> str:
    figures = house()
    ph = "pH not read" if reading.ph is None else f"pH {figures.number(reading.ph, 1)}"
    at_reference = figures.number(reading.density_at_reference, 2)
    told = (
        f"{reading.at}, {reading.who}: {figures.density(reading.density_lb_per_gal)} at"
        f" {figures.temperature(reading.temperature_f, 2)} ({at_reference} at"
        f" {figures.temperature(reading.reference_f)}), {ph}, {reading.appearance}."
    )
    return " ".join(
        part for part in (told, *reading.findings, reading.laboratory, reading.set_aside) if part
    )


def _packages(view: BatchRecordView) -> Table | None:
    rows = [(each.serial, house().every_digit(each.net_lb)) for each in view.packages]
    return _table((("Serial", False), ("Net, lb", True)), rows, (0.4, 0.2))


def _balance(view: BatchRecordView) -> list[Flowable]:
    lines = [view.balance, *view.rinses] if view.balance else list(view.rinses)
    return [flowables.prose(line) for line in lines]


def _events(view: BatchRecordView) -> Table | None:
    rows = [(event.at, event.who, event.what) for event in view.events]
    captions = (("When", False), ("Who", False), ("What", False))
    return _table(captions, rows, (0.2, 0.22, 0.58))
