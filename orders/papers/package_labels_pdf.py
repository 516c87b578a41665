"""A label for each filled package; the guaranteed analysis stands on the product's own label."""

from __future__ import annotations

from functools import partial
from typing import Final

from reportlab.platypus import Flowable

from blendshop.documents import flowables, styles
from blendshop.documents.document import render
from blendshop.documents.label_stock import STOCKS, render_on_stock
from blendshop.documents.scan_label import ScanLabel, on_letter_page, on_stock
from blendshop.figures.readers import house
from orders.papers.plant_view_models import LabelledPackage, PackageLabelsView
from orders.records import letterhead

_SMALL_PRINT: Final = "Read the product's label and SDS first; this label only names the package."


def render_package_labels(view: PackageLabelsView) -> bytes:
    """The labels as a PDF, on the stock the view names. The same view gives the same bytes."""
    labels = [_label(view, package) for package in view.packages]
    if stock := STOCKS.get(view.stock):
        return render_on_stock(
            stock,
            [partial(on_stock, label, stock) for label in labels],
            title=f"Package labels {view.number}",
            author=view.plant.name,
            subject=f"Serials of {view.number}",
        )
    masthead = letterhead.masthead(
        view.plant, "Package labels", view.number, "", f"Serials of {view.number}"
    )
    story: list[Flowable] = []
    for label in labels:
        story += [on_letter_page(label), flowables.gap(styles.SECTION_GAP)]
    return render(masthead, story)


def _label(view: PackageLabelsView, package: LabelledPackage) -> ScanLabel:
    counted = f"Package {package.position} of {package.of}, " if package.of else ""
    order = f", order {package.order_number}" if package.order_number else ""
    return ScanLabel(
        code=package.serial,
        title=f"{package.product_name or view.product_name} {package.grade or view.grade}",
        figure=f"Net {house().weighed(package.net_lb)}",
        lines=(
            f"{counted}{package.package_name}",
            f"Lot (batch) {view.number}",
            f"For {package.customer_name}{order}",
            view.plant.name,
        ),
        small_print=_SMALL_PRINT,
        qr=package.page_url,
    )
