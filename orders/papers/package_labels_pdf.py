"""A label for each filled package: its serial large, as a bar code and as a QR code.

Bar code: Code 128 (ISO/IEC 15417), which any keyboard-wedge scanner types. It identifies the
package; the guaranteed analysis stands on the product's own label.
"""

from __future__ import annotations

from typing import Final

from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from orders.papers import wording
from orders.papers.plant_view_models import LabelledPackage, PackageLabelsView

_WIDTH: Final = styles.CONTENT_WIDTH
_INSIDE: Final = _WIDTH - 2 * styles.BOX_PADDING
_QR_SIDE: Final = 34 * mm
_BAR_HEIGHT: Final = 14 * mm
_BAR_WIDTH: Final = 0.38 * mm  # one module; scanners at arm's length read 0.33 mm and above
_SERIAL: Final = ParagraphStyle("serial", parent=styles.TITLE, fontSize=24, leading=28)


def render_package_labels(view: PackageLabelsView) -> bytes:
    """The labels as a PDF, several to a page. The same view gives the same bytes."""
    masthead = wording.masthead(
        view.plant, "Package labels", view.number, "", f"Serials of {view.number}"
    )
    story: list[Flowable] = []
    for package in view.packages:
        story += [_label(view, package), flowables.gap(styles.SECTION_GAP)]
    return render(masthead, story)


def _label(view: PackageLabelsView, package: LabelledPackage) -> Flowable:
    text_width = _INSIDE - _QR_SIDE
    left: list[Flowable] = [
        flowables.verbatim(package.serial, _SERIAL),
        flowables.prose(f"{view.product_name} {view.grade}", styles.TICKET_BOLD),
        flowables.prose(
            f"{package.package_name}, net {wording.weighed(package.net_lb)} lb."
            f" Batch {view.number}, for {package.customer_name}. {view.plant.name}",
            styles.BODY,
        ),
        flowables.gap(),
        Code128(
            package.serial,
            barHeight=_BAR_HEIGHT,
            barWidth=_BAR_WIDTH,
            humanReadable=False,
            quiet=True,
            lquiet=10 * _BAR_WIDTH,
            rquiet=10 * _BAR_WIDTH,
        ),
        flowables.gap(),
        flowables.prose(
            "Read the product's label and SDS before opening. This label names the package; it is"
            " not the product's label.",
            styles.SMALL,
        ),
    ]
    right: list[Flowable] = [flowables.QrCode(package.serial, _QR_SIDE)]
    inside = flowables.side_by_side([left, right], [text_width, _QR_SIDE])
    return flowables.boxed([inside], _WIDTH, heavy=True)
