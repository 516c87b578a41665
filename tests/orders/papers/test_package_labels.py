"""Package and lot labels: one on each label of a roll, read at arm's length, or a letter page."""

import dataclasses
import re
from decimal import Decimal

import paper_samples as samples
import pytest

from blendshop.documents.label_stock import STOCKS, chosen_stock
from blendshop.documents.styles import LEAST_LABEL_PT
from blendshop.errors import BadInput
from orders.papers.package_labels_pdf import render_package_labels
from orders.papers.plant_view_models import LabelledPackage, PackageLabelsView

ADDRESS = "https://blendshop.example/packages/B-2026-0107-{:02}/"
SIZES = {"4x6": (288, 432), "4x2": (288, 144)}
every_stock = pytest.mark.parametrize("stock", SIZES)


def package(number=1, **changes):
    label = LabelledPackage(
        serial=f"B-2026-0107-{number:02}",
        net_lb=Decimal("12749.5"),
        package_name="265 gal tote",
        customer_name="Example Lawn Care",
        product_name="Half slow summer",
        position=number,
        of=10,
        order_number="O-2026-0031",
        page_url=ADDRESS.format(number),
    )
    return dataclasses.replace(label, **changes)


def labels(*packages, stock="", **changes):
    view = PackageLabelsView(
        plant=samples.PLANT,
        number="B-2026-0107",
        product_name="Half slow summer",
        grade="24-0-3",
        packages=packages or (package(),),
        stock=stock,
    )
    return dataclasses.replace(view, **changes)


def type_sizes(paper):
    found = set()
    for page in paper.reader.pages:
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                found.add(round(size * abs(tm[0]), 1)) if text.strip() else None
            )
        )
    return found


def test_the_sizes_are_those_of_the_test():
    assert set(STOCKS) == set(SIZES)


@pytest.mark.parametrize("stock", ["", *SIZES])
def test_a_label_says_what_is_in_the_package_for_whom_and_which_of_how_many(stock, read):
    paper = read(render_package_labels(labels(package(3), stock=stock)))
    for text in (
        "B-2026-0107-03",
        "Half slow summer 24-0-3",
        "Net 12,749.5 lb",
        "Package 3 of 10, 265 gal tote",
        "Lot (batch) B-2026-0107",
        "For Example Lawn Care, order O-2026-0031",
        "Demo Liquid Blending Plant",
        "SDS first",
    ):
        assert text in paper.flat
    assert paper.links == {ADDRESS.format(3)}


@every_stock
def test_each_package_has_a_label_of_its_own_in_the_size_of_the_roll(stock, read):
    paper = read(render_package_labels(labels(*map(package, range(1, 5)), stock=stock)))
    for number, (page, text) in enumerate(zip(paper.reader.pages, paper.pages, strict=True), 1):
        assert (float(page.mediabox.width), float(page.mediabox.height)) == SIZES[stock]
        assert f"B-2026-0107-{number:02}" in text
    assert len(paper.pages) == 4


@every_stock
def test_type_is_read_at_arm_s_length_and_the_weight_from_further(stock, read):
    sizes = type_sizes(read(render_package_labels(labels(stock=stock))))
    assert min(sizes) >= LEAST_LABEL_PT
    assert max(sizes) >= 16


def test_a_long_name_is_set_smaller_and_still_whole(read):
    long = package(product_name=samples.LONG_NAME, customer_name=samples.LONG_NAME)
    paper = read(render_package_labels(labels(long, stock="4x6")))
    assert paper.flat.count(samples.LONG_NAME) == 2
    assert len(paper.pages) == 1
    assert min(type_sizes(paper)) >= LEAST_LABEL_PT


def test_what_does_not_fit_a_small_label_says_which_to_take(read):
    long = package(product_name=samples.LONG_NAME, customer_name=samples.LONG_NAME)
    paper = read(render_package_labels(labels(long, package(2), stock="4x2")))
    assert len(paper.pages) == 2
    assert "does not fit 4 × 2 in" in " ".join(paper.pages[0].split())
    assert "Take the 4 × 6 in label instead." in " ".join(paper.pages[0].split())
    assert "B-2026-0107-02" in paper.pages[1]


def test_stored_labels_of_before_are_still_drawn(read):
    stored = labels().to_json()
    del stored["stock"]
    for name in ("position", "of", "order_number", "page_url"):
        del stored["packages"][0][name]
    paper = read(render_package_labels(PackageLabelsView.from_json(stored)))
    assert "Net 12,749.5 lb" in paper.flat
    assert not re.search(r"Package \d", paper.flat)
    assert paper.links == set()


@every_stock
def test_the_same_view_gives_the_same_bytes(stock):
    assert render_package_labels(labels(stock=stock)) == render_package_labels(labels(stock=stock))


def test_a_size_that_is_not_kept_is_refused_by_name():
    assert chosen_stock("") is None
    with pytest.raises(BadInput, match="4 × 6 in, 4 × 2 in"):
        chosen_stock("a4")
