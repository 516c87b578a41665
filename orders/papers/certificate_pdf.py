"""The certificate of analysis a customer gets: each figure with how it was found."""

from __future__ import annotations

from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Table

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.figures.readers import house
from orders.papers import wording
from orders.papers.plant_view_models import CertificateView
from orders.records import letterhead

_WIDTH: Final = styles.CONTENT_WIDTH
_FACT_LABEL: Final = 34 * mm
_QR_SIDE: Final = 26 * mm
_BASIS: Final = (
    "“Calculated” figures follow from the weights charged into this batch and the suppliers'"
    " certificates of the lots used; they are not laboratory results of this batch. Where a"
    " laboratory is named, the figure is its own."
)


def render_certificate(view: CertificateView) -> bytes:
    """The certificate as a PDF. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant,
        "Certificate of analysis",
        view.number,
        house().date(view.released_on),
        f"Analysis of {view.product_name}, lot {view.number}",
    )
    signature = flowables.writing_fields(
        ("For the plant: name and signature", "Date"), [_WIDTH * 0.7, _WIDTH * 0.3]
    )
    story: list[Flowable] = [
        flowables.prose(view.product_name, styles.TITLE),
        flowables.gap(3),
        _identification(view),
        *flowables.section("Analysis, percent by weight", [_figures(view)]),
        *flowables.section("Physical", [_physical(view)]),
        *flowables.section("Remarks", flowables.bullets((*view.remarks, _BASIS))),
        flowables.gap(styles.SECTION_GAP),
        signature,
        flowables.gap(),
        flowables.prose(wording.DEFERENCE, styles.SMALL_ITALIC),
    ]
    return render(masthead, story)


def _identification(view: CertificateView) -> Table:
    if not view.page_url:  # a certificate of before it had a code
        return flowables.facts(_facts(view), _WIDTH, label_width=_FACT_LABEL)
    width = _WIDTH - _QR_SIDE
    facts = flowables.facts(_facts(view), width - styles.GUTTER, label_width=_FACT_LABEL)
    code = [
        flowables.QrCode(view.page_url, _QR_SIDE),
        flowables.prose("Papers of this lot", styles.CENTERED_SMALL),
    ]
    return flowables.side_by_side([[facts], code], [width, _QR_SIDE])


def _facts(view: CertificateView) -> list[tuple[str, str]]:
    facts = [
        ("Grade", view.grade),
        ("Lot", view.number),
        ("Made on", house().date(view.made_on)),
        ("Released", f"{house().date(view.released_on)} by {view.released_by}"),
        ("Customer", letterhead.address(view.customer)),
        ("Order", view.order_number),
    ]
    if view.customer_reference:
        facts.append(("Your reference", view.customer_reference))
    return facts


def _figures(view: CertificateView) -> Table:
    header = [
        flowables.prose("Content", styles.CAPTION),
        flowables.prose("Guaranteed, at least", styles.CAPTION_RIGHT),
        flowables.prose("Found", styles.CAPTION_RIGHT),
        flowables.prose("How", styles.CAPTION),
        flowables.prose("Stands", styles.CAPTION),
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
    density = "not read"
    if view.density_lb_per_gal is not None:
        density = (
            f"{house().density(view.density_lb_per_gal, 2)}"
            f" at {house().temperature(view.density_temperature_f)}"
        )
        if view.density_is_calculated:
            density += ", calculated from the weights charged"
    ph = "not read" if view.ph is None else house().number(view.ph, 1)
    pairs = [("Density", density), ("pH", ph), ("Appearance", view.appearance or "not read")]
    return flowables.facts(pairs, _WIDTH, label_width=_FACT_LABEL)
