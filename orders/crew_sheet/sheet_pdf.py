"""The crew sheet on one letter page: large figures first, the record to fill in at its foot."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from django.utils.translation import gettext as _
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
from blendshop.figures.readers import reader
from orders.crew_sheet.page import Filling, Line, SheetPage
from orders.records import letterhead
from orders.records.letterhead import Plant

#: Type is set smaller until everything stands on one page.
_SCALES: Final = (1.0, 0.93, 0.87, 0.81, 0.76, 0.71, 0.66, 0.62)
_QR_SIDE: Final = 74.0
_WIDTH: Final = styles.CONTENT_WIDTH


def render_crew_sheet(page: SheetPage, plant: Plant, url: str) -> bytes:
    """The page as a PDF, in the language and figures of who reads."""
    sheet = page.sheet
    masthead = letterhead.masthead(
        plant,
        _("Crew sheet"),
        sheet.number,
        page.dates,
        f"{page.figures.product_name} {page.figures.grade}",
        banner=_("Called back: do not use it.") if page.recalled else "",
    )
    return render(masthead, _story(page, masthead, url))


def _story(page: SheetPage, masthead: Masthead, url: str) -> list[Flowable]:
    room = first_page_room(masthead)
    place, made = largest_that_fits(_SCALES, lambda scale: _at(page, url, scale), _WIDTH, room)
    del made  # measured stories are used up
    return _at(page, url, _SCALES[min(place, len(_SCALES) - 1)])


def _at(page: SheetPage, url: str, scale: float) -> list[Flowable]:
    main, big = _style(17, scale, bold=True), _style(13, scale, bold=True)
    body, small, caption = _style(11, scale), _style(8.4, scale), _style(9.5, scale, bold=True)
    heading = _style(12, scale, bold=True, above=5)
    stops = [each.text for each in page.cautions if each.is_stop]
    others = [each.text for each in page.cautions if not each.is_stop]
    return [
        _head(page, url, scale),
        *(prose(words, big) for words in page.recalled),
        *(flowables.boxed([prose(text, big)], _WIDTH, heavy=True) for text in stops),
        _figures([*page.rates, *page.whole], main, body, caption),
        prose(_("Tank mix, in this order; first try it in a jar"), heading),
        _mix(page.fillings, body, big, caption),
        prose(_("Nozzle check"), heading),
        *([_figures(page.nozzle, big, body, caption)] if page.nozzle else []),
        *(prose(words, small) for words in page.nozzle_words),
        prose(_("Cautions"), heading),
        *flowables.bullets(others, small),
        prose(_("Record of the application, to fill in and keep"), heading),
        *_record(page, small),
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
    )


def _head(page: SheetPage, url: str, scale: float) -> Table:
    sheet, figures = page.sheet, page.figures
    title, body = _style(18, scale, bold=True), _style(11.5, scale)
    grass = _("Grass: {grass}").format(grass=sheet.grass) if sheet.grass else ""
    lot = _("Lot {lot}").format(lot=figures.lot) if figures.lot else ""
    facts: list[Flowable] = [
        prose(f"{figures.product_name} {figures.grade}", title),
        prose(" · ".join(text for text in (f"{sheet.place}, {sheet.state}", grass) if text), body),
        prose(" · ".join(text for text in (page.dates, lot) if text), body),
    ]
    if sheet.note:
        facts.append(prose(sheet.note, body))
    code: list[Flowable] = [
        flowables.QrCode(url, _QR_SIDE),
        prose(_("On the phone"), _style(8.4, scale)),
    ]
    return flowables.side_by_side([facts, code], [_WIDTH - _QR_SIDE, _QR_SIDE])


def _figures(
    lines: tuple[Line, ...] | list[Line],
    main: ParagraphStyle,
    body: ParagraphStyle,
    caption: ParagraphStyle,
) -> Table:
    rows = [
        [
            prose(line.name, body),
            prose(line.figure.us, main if line.is_main else body),
            prose(line.figure.metric, body),
        ]
        for line in lines
    ]
    head = [prose(text, caption) for text in ("", _("US"), _("Metric"))]
    shares = (0.27, 0.49, 0.24)
    return flowables.ruled_table(head, rows, [_WIDTH * s for s in shares], cell_padding=2)


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


def _record(page: SheetPage, small: ParagraphStyle) -> list[Flowable]:
    """Product, analysis and lot stand at the head of the page."""
    captions = (
        (_("Applied by"), _("Licence or certificate no."), _("Supervisor"), _("Day")),
        (_("Owner of the lawn"), _("Owner's phone"), _("Address of the lawn"), _("ZIP code")),
        (_("Begun and ended at"), _("Area treated"), _("Product used"), _("Equipment")),
        (_("Wind and from where"), _("Temperature"), _("Weather at the start"), _("Notes")),
    )
    found: list[Flowable] = [
        flowables.writing_fields(row, [_WIDTH / len(row)] * len(row)) for row in captions
    ]
    duty = page.duty
    if duty is not None and duty.keep_years:
        words = _("{state} asks to keep this record for {years} years.")
        found.append(
            prose(words.format(state=duty.state, years=reader().number(duty.keep_years, 0)), small)
        )
    return found
