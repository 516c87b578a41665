"""The packing list of an order: packages with serials and weights, and cautions."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import reader
from blendshop.figures.units import US
from blendshop.figures.writing import Figures
from formulas.answers.promised_grade import product_name
from orders.papers import wording
from orders.papers.plant_view_models import PackedLine, PackingListView
from orders.records import letterhead
from orders.records.plant_words import package_words
from orders.records.written import writing

_WIDTH: Final = styles.CONTENT_WIDTH


def render_packing_list(view: PackingListView) -> bytes:
    """The packing list as a PDF. The same view gives the same bytes."""
    with writing(view.written):
        return _render(view)


def _render(view: PackingListView) -> bytes:
    reference = ""
    if view.customer_reference:
        reference = _("Your reference: {reference}").format(reference=view.customer_reference)
    masthead = letterhead.customers_masthead(
        view.plant,
        _("Packing list"),
        view.number,
        reference,
        _("Packages of {number}").format(number=view.number),
    )
    half = _WIDTH / 2
    parties = flowables.side_by_side(
        [
            [
                flowables.prose(_("Customer"), styles.CAPTION),
                flowables.prose(letterhead.address(view.customer)),
            ],
            [
                flowables.prose(_("Ship to"), styles.CAPTION),
                flowables.prose(letterhead.address(view.ship_to)),
            ],
        ],
        [half, half],
    )
    signature = flowables.writing_fields(
        (_("Received complete and undamaged: name and signature"), _("Date")),
        [_WIDTH * 0.7, _WIDTH * 0.3],
    )
    said: list[Flowable] = []
    if view.customer_note:
        note = _("Your note: {note}").format(note=view.customer_note)
        said = [flowables.prose(note)]
    story: list[Flowable] = [
        parties,
        *said,
        *flowables.section(_("Packages"), [_packages(view), *_scale(view)]),
        *flowables.section(_("Cautions"), flowables.bullets(view.cautions)),
        *flowables.section(_("Transport"), [flowables.prose(view.transport, styles.BODY_BOLD)]),
        flowables.gap(styles.SECTION_GAP),
        signature,
        flowables.gap(),
        *(
            flowables.prose(each, styles.SMALL_ITALIC)
            for each in (wording.deference(), *wording.translated(view.written))
        ),
    ]
    return render(masthead, story)


def _packages(view: PackingListView) -> Table:
    figures = reader()
    unit = figures.units.mass_lb.mark
    header = [
        flowables.prose(_("Product, batch and serials"), styles.CAPTION),
        flowables.prose(_("Package"), styles.CAPTION),
        flowables.prose(_("Count"), styles.CAPTION_RIGHT),
        flowables.prose(_("Net, {unit}").format(unit=unit), styles.CAPTION_RIGHT),
        flowables.prose(_("Gross, {unit}").format(unit=unit), styles.CAPTION_RIGHT),
    ]
    rows = [_row(line, figures) for line in view.lines]
    count = sum(line.count for line in view.lines)
    net, gross = _weights_lb(view)
    rows.append(
        [
            flowables.prose(_("Together"), styles.BODY_BOLD),
            "",
            flowables.prose(str(count), styles.BODY_BOLD_RIGHT),
            flowables.prose(figures.weighed_number(net), styles.BODY_BOLD_RIGHT),
            flowables.prose(figures.weighed_number(gross), styles.BODY_BOLD_RIGHT),
        ]
    )
    shares = (0.46, 0.2, 0.08, 0.13, 0.13)
    return flowables.ruled_table(header, rows, [_WIDTH * share for share in shares])


def _weights_lb(view: PackingListView) -> tuple[Decimal, Decimal]:
    """Net and gross of all lines, in pounds."""
    net = sum((line.net_lb for line in view.lines), Decimal(0))
    return net, sum((line.gross_lb for line in view.lines), Decimal(0))


def _scale(view: PackingListView) -> list[Flowable]:
    """What the scale said, where the list is not in its pounds."""
    figures = reader()
    if figures.units.mass_lb == US.mass_lb:
        return []
    net, gross = _weights_lb(view)
    told = _(
        "Weighed in pounds: {net} net, {gross} gross. Each figure above is converted by itself;"
        " 1 lb is 0.45359237 kg."
    ).format(net=figures.weighed(net), gross=figures.weighed(gross))
    return [flowables.prose(told, styles.SMALL)]


def _row(line: PackedLine, figures: Figures) -> list[object]:
    unit = figures.units.mass_lb.mark
    listed = [
        f"{each.serial} ({figures.weighed_number(each.net_lb)} {unit})" for each in line.packages
    ]
    if line.not_weighed:
        listed.append(
            _("{count} not weighed ({mass}, estimated)").format(
                count=figures.every_digit(line.not_weighed),
                mass=f"{figures.weighed_number(line.estimated_lb)} {unit}",
            )
        )
    serials = "; ".join(listed)
    return [
        [
            flowables.prose(product_name(line.product_name, line.grade), styles.BODY_BOLD),
            flowables.verbatim(_("Batch {number}").format(number=line.batch_number)),
            flowables.verbatim(serials, styles.SMALL),
        ],
        flowables.prose(package_words(line.package_name, 1)),
        flowables.prose(str(line.count), styles.BODY_RIGHT),
        flowables.prose(figures.weighed_number(line.net_lb), styles.BODY_RIGHT),
        flowables.prose(figures.weighed_number(line.gross_lb), styles.BODY_RIGHT),
    ]
