"""The label on Letter paper; behind a draft, what its reviewer has to look through.

The label is set on one page, smaller step by step where it is long; what does not fit even then
runs on to the next page, never off the sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak

from blendshop.documents import flowables, styles
from blendshop.documents.document import (
    EndsOnPage,
    Masthead,
    first_page_room,
    largest_that_fits,
    page_count,
    render,
)
from blendshop.figures.readers import house
from orders.labels import blocks as label_blocks
from orders.labels.blocks import LabelType
from orders.labels.view_models import LabelChangeLine, LabelDraftView, MetalLine
from orders.records import letterhead

_SIZES: Final = (1.0, 0.94, 0.88, 0.82, 0.76)
_QR_SIDE: Final = 24 * mm
_NO_REGISTRATION: Final = (
    "This draft has not been filed with or reviewed by any authority. Whoever distributes the"
    " product must check every line against the law of the state where it is sold, and register"
    " or license it where that is required."
)
_METALS_NOTE: Final = (
    "Screening aid: the state's own text, an accredited laboratory and its method decide. A metal"
    " without a figure in any stock is not assessed; it is not passed."
)


def render_label_draft(view: LabelDraftView) -> bytes:
    """The label as a PDF; an approved one is the label alone. The same view, the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Label draft" if view.is_draft else "Label",
        view.number,
        house().date(view.drafted_on),
        f"{'Draft label' if view.is_draft else 'Label'} analysis of {view.product_name}",
        banner=label_blocks.standing(view),
    )
    room = first_page_room(masthead)
    place, measured = largest_that_fits(
        _SIZES, lambda scale: _label(view, scale), styles.CONTENT_WIDTH, room
    )
    sizes, most = _SIZES[place:], 1
    if not sizes:
        sizes, most = _SIZES, page_count(render(masthead, _label(view, _SIZES[-1])))
    return _on_pages(masthead, view, sizes, most, measured)


def _on_pages(
    masthead: Masthead,
    view: LabelDraftView,
    sizes: Sequence[float],
    most: int,
    measured: dict[float, list[Flowable]],
) -> bytes:
    """The paper at the first of ``sizes`` whose label ends on page ``most``.

    What was ``measured`` at a size has its lines broken already; drawn it is used up.
    """
    *larger, smallest = sizes
    for scale in larger:
        ended = EndsOnPage()
        if view.packages:
            # Each weight has a label of its own in it; the size is that of the label without one.
            render(masthead, [*_label(view, scale), ended])
        else:
            paper = _paper(masthead, view, scale, ended, measured.pop(scale, None))
        if ended.page is not None and ended.page <= most:
            return _paper(masthead, view, scale, EndsOnPage()) if view.packages else paper
    return _paper(masthead, view, smallest, EndsOnPage())


def _paper(
    masthead: Masthead,
    view: LabelDraftView,
    scale: float,
    ended: EndsOnPage,
    label: list[Flowable] | None = None,
) -> bytes:
    """The whole paper; ``ended`` notes where its last label does. ``label`` is it, if at hand."""
    labels = [label] if label else [_label(each, scale) for each in view.each_weight()]
    stories = [piece for each in labels for piece in (*each, PageBreak())]
    stories.insert(-1, ended)
    return render(masthead, [*stories, *_review(view)] if view.is_draft else stories[:-1])


def _type(scale: float) -> LabelType:
    return label_blocks.label_type(
        product=22 * scale,
        grade=17 * scale,
        line=11 * scale,
        net=10.5 * scale,
        body=9.5 * scale,
        small=8.2 * scale,
    )


def _label(view: LabelDraftView, scale: float) -> list[Flowable]:
    kind = _type(scale)
    return [
        *label_blocks.net_contents(view, kind),
        flowables.gap(kind.gap),
        *label_blocks.name_and_grade(view, kind),
        flowables.gap(kind.gap),
        *label_blocks.analysis(view, kind),
        flowables.gap(kind.gap),
        label_blocks.particulars_block(view, kind, styles.CONTENT_WIDTH, qr_side=_QR_SIDE),
        *label_blocks.directions_and_cautions(view, kind),
    ]


def _review(view: LabelDraftView) -> list[Flowable]:
    notes = list(view.review_notes)
    for item in view.not_claimed:
        source = f" Source: {item.source}." if item.source else ""
        notes.append(f"Not claimed: {item.label} {house().content(item.pct)}. {item.rule}{source}")
    return [
        *flowables.section("For the reviewer", [flowables.prose(_NO_REGISTRATION)]),
        *flowables.section("Changes made by hand", flowables.bullets(_changes(view), styles.SMALL)),
        *flowables.section("Asked by the law where it goes", _duties(view)),
        *_metals(view.metals),
        *flowables.section("Notes and sources", flowables.bullets(notes, styles.SMALL)),
    ]


def _changes(view: LabelDraftView) -> list[str]:
    return [_change(line) for line in view.changes] or [
        "None: every line stands as the analysis allows it."
    ]


def _change(line: LabelChangeLine) -> str:
    return f"{line.label}: {line.change} by {line.who} on {house().date(line.on)}: {line.why}"


def _duties(view: LabelDraftView) -> list[Flowable]:
    """Boxes to tick; nothing here is judged by the software."""
    return flowables.bullets(
        [
            f"[  ] {duty.topic}: {duty.text}" + (f" Source: {duty.source}." if duty.source else "")
            for duty in view.duties
        ],
        styles.SMALL,
    )


def _metals(lines: tuple[MetalLine, ...]) -> list[Flowable]:
    if not lines:
        return []
    small = styles.SMALL
    rows = [
        [
            flowables.prose(line.label, small),
            flowables.prose(_ppm(line.found_ppm, "no figure"), small),
            flowables.prose(_ppm(line.limit_ppm, "none"), small),
            flowables.prose(line.verdict, small),
            flowables.prose(f"{line.rule}. {line.note}" if line.note else line.rule, small),
        ]
        for line in lines
    ]
    headings = ("Metal", "Found, ppm", "Limit, ppm", "Verdict", "Rule and note")
    widths = [30 * mm, 22 * mm, 22 * mm, 32 * mm]
    table = flowables.ruled_table(
        [flowables.prose(heading, styles.CAPTION) for heading in headings],
        rows,
        [*widths, styles.CONTENT_WIDTH - sum(widths)],
        cell_padding=1.5,
    )
    return [
        *flowables.section("Heavy metals", [flowables.prose(_METALS_NOTE, small)]),
        flowables.gap(),
        table,
    ]


def _ppm(value: float | None, without: str) -> str:
    return without if value is None else house().significant(value, 4)
