"""The crew sheet on one letter page: large figures first, the record to fill in at its foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import (
    Masthead,
    first_page_room,
    largest_that_fits,
    render,
)
from blendshop.documents.flowables import prose, verbatim
from blendshop.documents.fonts import REGULAR
from blendshop.figures.readers import reader
from formulas.templatetags.nutrients import with_grade
from orders.crew_sheet.page import Filling, Line, SheetPage
from orders.frozen.crew_figures import CrewFigures
from orders.records.letterhead import Plant

#: Type is set smaller until everything stands on one page.
_SCALES: Final = (1.2, 1.12, 1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6)
_QR_SIDE: Final = 84.0
_WIDTH: Final = styles.CONTENT_WIDTH
_TIGHT: Final[list[tuple[Any, ...]]] = [
    ("FONTNAME", (0, 0), (-1, -1), REGULAR),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2),
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
]
_FIELD_NAME: Final = ParagraphStyle("crew-field", parent=styles.SMALL, fontSize=7.4, leading=8.6)
#: A field to write in with a pen.
_FIELD_HEIGHT: Final = 27.0


def render_crew_sheet(page: SheetPage, plant: Plant, url: str) -> bytes:
    """The page as a PDF, in the language and figures of who reads."""
    sheet, figures = page.sheet, page.figures
    masthead = Masthead(
        paper_name=_("Crew sheet"),
        number=sheet.number,
        issuer=plant.name,
        issuer_lines=(plant.phone,) if plant.phone else (),
        dated=page.dates,
        subject=with_grade(figures.product_name, figures.grade),
        banner=_("Called back: do not use it.") if page.recalled else "",
        language=reader().locale.tag,
        page_words=_("Page {number} of {count}"),
    )
    room = first_page_room(masthead)
    place, _made = largest_that_fits(_SCALES, lambda scale: _at(page, url, scale), _WIDTH, room)
    # Stories that were measured are used up.
    return render(masthead, _at(page, url, _SCALES[min(place, len(_SCALES) - 1)]))


def _at(page: SheetPage, url: str, scale: float) -> list[Flowable]:
    big = _style(13.5, scale, bold=True)
    body, small, caption = _style(11, scale), _style(8.4, scale), _style(9.5, scale, bold=True)
    heading = _style(12, scale, bold=True, above=4)
    stops = [each.text for each in page.cautions if each.is_stop]
    others = [each.text for each in page.cautions if not each.is_stop]
    half = (len(others) + 1) // 2
    return [
        *(prose(words, big) for words in page.recalled),
        *(flowables.boxed([prose(text, big)], _WIDTH, heavy=True) for text in stops),
        _head(page, url, scale),
        prose(_("Tank mix, in this order; first try it in a jar"), heading),
        _mix(page.fillings, body, big, caption),
        prose(_("Nozzle check"), heading),
        *([_figures(page.nozzle, _WIDTH, big, body)] if page.nozzle else []),
        prose(" ".join(page.nozzle_words), _style(9, scale)),
        prose(_("Cautions"), heading),
        flowables.side_by_side(
            [flowables.bullets(others[:half], small), flowables.bullets(others[half:], small)],
            [_WIDTH / 2, _WIDTH / 2],
        ),
        prose(_("Record of the application, to fill in and keep"), heading),
        *_record(page),
    ]


@lru_cache(maxsize=64)
def _style(size: float, scale: float, *, bold: bool = False, above: float = 0.0) -> ParagraphStyle:
    parent = styles.BODY_BOLD if bold else styles.BODY
    pt = size * scale
    return ParagraphStyle(
        f"crew-{size}-{scale}-{bold}-{above}",
        parent=parent,
        fontSize=pt,
        leading=pt * 1.18,
        spaceBefore=above * scale,
        spaceAfter=above * scale / 2,
    )


def _head(page: SheetPage, url: str, scale: float) -> Table:
    """What and where, with the two rates large, beside the code."""
    sheet, figures = page.sheet, page.figures
    main, body = _style(19, scale, bold=True), _style(11, scale)
    grass = _("Grass: {grass}").format(grass=sheet.grass) if sheet.grass else ""
    lot = _("Lot {lot}").format(lot=figures.lot) if figures.lot else ""
    where = (f"{sheet.place}, {sheet.state}", grass, page.dates, lot)
    width = _WIDTH - _QR_SIDE
    facts: list[Flowable] = [
        prose(with_grade(figures.product_name, figures.grade), main),
        prose(" · ".join(text for text in where if text), body),
    ]
    if sheet.note:
        facts.append(prose(sheet.note, _style(11, scale, bold=True)))
    lines = [*page.rates, *page.whole]
    facts.append(_figures(lines, width - styles.GUTTER, _style(16, scale, bold=True), body))
    code: list[Flowable] = [
        flowables.QrCode(url, _QR_SIDE),
        prose(_("On the phone"), styles.CENTERED_SMALL),
    ]
    return flowables.side_by_side([facts, code], [width, _QR_SIDE])


def _figures(
    lines: Sequence[Line], width: float, main: ParagraphStyle, body: ParagraphStyle
) -> Table:
    """Name, US units, metric; one line a row."""
    rows = [
        [
            prose(line.name, body),
            prose(line.figure.us, main if line.is_main else body),
            prose(line.figure.metric, body),
        ]
        for line in lines
    ]
    rule = ("LINEABOVE", (0, 0), (-1, -1), styles.HAIRLINE, styles.FAINT_LINE)
    return Table(
        rows,
        colWidths=[width * share for share in (0.24, 0.52, 0.24)],
        style=[*_TIGHT, rule],
    )


def _mix(
    fillings: tuple[Filling, ...],
    body: ParagraphStyle,
    big: ParagraphStyle,
    caption: ParagraphStyle,
) -> Table:
    """One row a step, one column a kind of tank."""
    first = fillings[0]
    rows: list[list[object]] = []
    for number, step in enumerate(first.steps):
        cells: list[object] = [prose(f"{number + 1}. {step.text}", body)]
        for filling in fillings:
            figure = filling.steps[number].figure
            cells.append(
                [prose(figure.us, big), prose(figure.metric, body)]
                if figure
                else verbatim("", body)
            )
        rows.append(cells)
    covers = _("covers {us} ({metric})")
    head = [
        prose("", caption),
        *(
            prose(
                f"{each.title}; " + covers.format(us=each.covers.us, metric=each.covers.metric),
                caption,
            )
            for each in fillings
        ),
    ]
    share = 0.6 / len(fillings)
    widths = [_WIDTH * 0.4, *(_WIDTH * share for _each in fillings)]
    return flowables.ruled_table(head, rows, widths, cell_padding=1.5)


def _record(page: SheetPage) -> list[Flowable]:
    """Product and lot stand at the head of the page, the label's analysis below the fields."""
    captions = (
        (
            _("Applied by"),
            _("Licence or certificate no."),
            _("Supervisor"),
            _("Day"),
            _("Begun at"),
            _("Ended at"),
        ),
        (
            _("Owner of the lawn"),
            _("Owner's phone"),
            _("Address of the lawn"),
            _("ZIP code"),
            _("Area treated, sq ft"),
        ),
        (
            _("Product used, gal"),
            _("Wind, and from where"),
            _("Temperature"),
            _("Weather at the start"),
            _("Equipment"),
        ),
    )
    frame = ("GRID", (0, 0), (-1, -1), styles.HAIRLINE, styles.INK)
    found: list[Flowable] = [
        Table(
            [[prose(caption, _FIELD_NAME) for caption in row]],
            colWidths=[_WIDTH / len(row)] * len(row),
            rowHeights=[_FIELD_HEIGHT],
            style=[*_TIGHT, frame],
        )
        for row in captions
    ]
    found.extend(prose(words, _FIELD_NAME) for words in _of_the_label(page.figures))
    duty = page.duty
    if duty is not None and duty.keep_years:
        words = ngettext(
            "{state} asks to keep this record for {years} year.",
            "{state} asks to keep this record for {years} years.",
            duty.keep_years,
        )
        years = reader().number(duty.keep_years, 0)
        found.append(prose(words.format(state=duty.state, years=years), _FIELD_NAME))
    return found


def _of_the_label(figures: CrewFigures) -> Iterator[str]:
    """What states ask a record to name of the product, in the label's own words."""
    if figures.guarantees:
        told = ", ".join(f"{name} {figure}" for name, figure in figures.guarantees)
        yield _("Analysis on the label: {told}.").format(told=told)
    if figures.derived_from:
        yield _("Derived from: {sources}.").format(sources=", ".join(figures.derived_from))
