"""A label for each filled package; the guaranteed analysis stands on the product's own label."""

from __future__ import annotations

from typing import Final

from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.documents.scan_label import scan_label
from blendshop.figures.readers import house
from orders.papers.plant_view_models import LabelledPackage, PackageLabelsView
from orders.records import letterhead

_SMALL_PRINT: Final = (
    "Read the product's label and SDS before opening. This label names the package; it is"
    " not the product's label."
)


def render_package_labels(view: PackageLabelsView) -> bytes:
    """The labels as a PDF, several to a page. The same view gives the same bytes."""
    masthead = letterhead.masthead(
        view.plant, "Package labels", view.number, "", f"Serials of {view.number}"
    )
    story: list[Flowable] = []
    for package in view.packages:
        story += [_label(view, package), flowables.gap(styles.SECTION_GAP)]
    return render(masthead, story)


def _label(view: PackageLabelsView, package: LabelledPackage) -> Flowable:
    lines = [
        flowables.prose(
            f"{package.product_name or view.product_name} {package.grade or view.grade}",
            styles.TICKET_BOLD,
        ),
        flowables.prose(
            f"{package.package_name}, net {house().weighed(package.net_lb)}."
            f" Batch {view.number}, for {package.customer_name}. {view.plant.name}",
            styles.BODY,
        ),
    ]
    return scan_label(package.serial, lines, _SMALL_PRINT)
