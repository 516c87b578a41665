"""The certificate of analysis a customer gets: each figure with how it was found."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import reader
from orders.papers import wording
from orders.papers.plant_view_models import CertificateView
from orders.records import letterhead
from orders.records.written import writing

_WIDTH: Final = styles.CONTENT_WIDTH
_FACT_LABEL: Final = 34 * mm
_QR_SIDE: Final = 26 * mm


def render_certificate(view: CertificateView) -> bytes:
    """The certificate as a PDF. The same view gives the same bytes."""
    with writing(view.written):
        return _render(view)


def _render(view: CertificateView) -> bytes:
    masthead = letterhead.customers_masthead(
        view.plant,
        _("Certificate of analysis"),
        view.number,
        reader().date(view.released_on),
        _("Analysis of {product}, lot {lot}").format(product=view.product_name, lot=view.number),
    )
    signature = flowables.writing_fields(
        (_("For the plant: name and signature"), _("Date")), [_WIDTH * 0.7, _WIDTH * 0.3]
    )
    story: list[Flowable] = [
        flowables.prose(view.product_name, styles.TITLE),
        flowables.gap(3),
        _identification(view),
        *flowables.section(_("Analysis, percent by weight"), [_figures(view)]),
        *flowables.section(_("Physical"), [_physical(view)]),
        *flowables.section(_("Remarks"), flowables.bullets((*view.remarks, _basis()))),
        flowables.gap(styles.SECTION_GAP),
        signature,
        flowables.gap(),
        *(
            flowables.prose(each, styles.SMALL_ITALIC)
            for each in (wording.deference(), *wording.translated(view.written))
        ),
    ]
    return render(masthead, story)


def _basis() -> str:
    return _(
        "“Calculated” figures follow from the weights charged into this batch and the suppliers'"
        " certificates of the lots used; they are not laboratory results of this batch. Where a"
        " laboratory is named, the figure is its own."
    )


def _identification(view: CertificateView) -> Table:
    if not view.page_url:  # a certificate of before it had a code
        return flowables.facts(_facts(view), _WIDTH, label_width=_FACT_LABEL)
    width = _WIDTH - _QR_SIDE
    facts = flowables.facts(_facts(view), width - styles.GUTTER, label_width=_FACT_LABEL)
    code = [
        flowables.QrCode(view.page_url, _QR_SIDE),
        flowables.prose(_("Papers of this lot"), styles.CENTERED_SMALL),
    ]
    return flowables.side_by_side([[facts], code], [width, _QR_SIDE])


def _facts(view: CertificateView) -> list[tuple[str, str]]:
    facts = [
        (_("Grade"), view.grade),
        (_("Lot"), view.number),
        (_("Made on"), reader().date(view.made_on)),
        (
            _("Released"),
            _("{day} by {person}").format(
                day=reader().date(view.released_on), person=view.released_by
            ),
        ),
        (_("Customer"), letterhead.address(view.customer)),
        (_("Order"), view.order_number),
    ]
    if view.customer_reference:
        facts.append((_("Your reference"), view.customer_reference))
    return facts


def _figures(view: CertificateView) -> Table:
    header = [
        flowables.prose(_("Content"), styles.CAPTION),
        flowables.prose(_("Guaranteed, at least"), styles.CAPTION_RIGHT),
        flowables.prose(_("Found"), styles.CAPTION_RIGHT),
        flowables.prose(_("How"), styles.CAPTION),
        flowables.prose(_("Stands"), styles.CAPTION),
    ]
    rows = [
        [
            flowables.prose(each.name),
            flowables.prose(f"{guaranteed} %", styles.BODY_RIGHT),
            flowables.prose(f"{found} %", styles.BODY_BOLD_RIGHT),
            flowables.prose(each.method),
            flowables.prose(each.words),
        ]
        for each in view.figures
        for guaranteed, found in [wording.against(each.guaranteed_pct, each.found_pct)]
    ]
    shares = (0.30, 0.16, 0.12, 0.20, 0.22)
    return flowables.ruled_table(header, rows, [_WIDTH * share for share in shares])


def _physical(view: CertificateView) -> Table:
    density = _("not read")
    if view.density_lb_per_gal is not None:
        words = _("{density} at {temperature}")
        if view.density_is_calculated:
            words = _("{density} at {temperature}, calculated from the weights charged")
        density = words.format(
            density=reader().density(view.density_lb_per_gal, 2),
            temperature=reader().temperature(view.density_temperature_f),
        )
    ph = _("not read") if view.ph is None else reader().number(view.ph, 1)
    pairs = [
        (_("Density"), density),
        ("pH", ph),
        (_("Appearance"), view.appearance or _("not read")),
    ]
    return flowables.facts(pairs, _WIDTH, label_width=_FACT_LABEL)
