"""The tote placard and the 4 by 6 inch label: on one sheet each, never clipped."""

import dataclasses
import json
import warnings

import paper_samples as samples
import pytest

from blendshop.documents.styles import LEAST_LABEL_PT
from orders.labels.blocks import BANNER, DIRECTIONS_AND_ALL_CAUTIONS, ON_PLACARD
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view_models import LabelDraftView

SIZES = {render_label_placard: (612, 792), render_label_small: (288, 432)}
every_sheet = pytest.mark.parametrize("render", SIZES, ids=["placard", "4x6"])
PAGE_URL = "https://blendshop.example/batches/B-2026-00107/"


def view(**changes):
    return samples.label_draft(**({"page_url": PAGE_URL} | changes))


def type_sizes(paper):
    """Sizes of everything printed, in points."""
    found = set()
    for page in paper.reader.pages:
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                found.add(round(size * abs(tm[0]), 1)) if text.strip() else None
            )
        )
    return found


def edges(page):
    """Left, right (of the start of each text) and bottom of what is printed."""
    places = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, *_: (
            places.append((cm[4] + tm[4], cm[5] + tm[5])) if text.strip() else None
        )
    )
    return [x for x, _ in places], [y for _, y in places]


@every_sheet
def test_every_line_of_the_label_is_there_in_the_uniform_order(render, read):
    # The small label sets a colon behind what stands in a column of its own on the placard.
    text = read(render(view())).flat.replace(": ", " ").replace(":", "")
    expected = [
        "Net weight / Peso neto 2,855.1 lb (1,295.1 kg)",
        "Net volume / Volumen neto 265.0 gal (1,003.1 L) at 68 °F",
        "Half slow summer 24-0-3",
        "24-0-3",
        "GUARANTEED ANALYSIS",
        "Total Nitrogen (N)",
        "12.0% Slowly Available Water Soluble Nitrogen*",
        "Soluble Potash (K₂O)",
        "0.10% Chelated Iron",
        "Derived from Urea-Triazone Solution",
        "*12.0% slowly available nitrogen from urea-triazone solution.",
        "CONTAINS BENEFICIAL SUBSTANCES",
        "Humic acids (derived from leonardite)",
        "Guaranteed by / Garantizado por Demo Liquid Blending Plant",
        "Made for / Hecho para Example Lawn Care",
        "Lot / Lote",
        "Delivered / Entregado March 10, 2026",
        "Density / Densidad 10.77 lb/gal at 68 °F",
        "Directions for use / Modo de empleo",
        "Cautions / Precauciones",
        "Local codes, the product's SDS and label",
        "Spanish words our own translation",
    ]
    place = 0
    for words in expected:
        place = text.index(words, place) + len(words)


@every_sheet
def test_it_has_its_own_size_and_a_link_to_the_batch(render, read):
    paper = read(render(view()))
    for page in paper.reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == SIZES[render]
    assert paper.links == {PAGE_URL}


@every_sheet
def test_a_short_label_takes_one_sheet_in_the_largest_type(render, read):
    short = view(directions=(), other_ingredients=(), cautions=("Read the SDS.",))
    paper = read(render(short))
    assert len(paper.pages) == 1


@every_sheet
def test_a_longer_label_is_set_smaller(render, read):
    largest = {}
    for count in (0, 7):
        cautions = tuple(f"Caution {n} of the demo." for n in range(count))
        paper = read(render(view(directions=(), other_ingredients=(), cautions=cautions)))
        assert len(paper.pages) == 1
        largest[count] = max(type_sizes(paper))
    assert largest[7] < largest[0]


#: The larger layout that the sheet of a label names when it does not fit.
INSTEAD = {
    render_label_placard: "Take the label on letter pages, which runs on to a second page,",
    render_label_small: "Take the tote placard, 8½ by 11 in,",
}


@every_sheet
def test_a_label_that_does_not_fit_says_so_on_one_sheet_and_which_layout_to_take(render, read):
    cautions = tuple(f"Caution {n}: {samples.LONG_NAME}." for n in range(60))
    paper = read(render(view(cautions=cautions, lot="B-2026-00107")))
    (page,) = paper.pages
    assert "This label does not fit" in paper.flat
    assert INSTEAD[render] in paper.flat
    assert BANNER in page
    assert "Lot / Lote: B-2026-00107" in paper.flat
    assert "GUARANTEED ANALYSIS" not in page, "a part of a label is no label"


@every_sheet
def test_at_whatever_length_it_is_one_sheet_in_type_that_can_be_read(render, read):
    whole = 0
    for count in (0, 2, 6, 20):
        cautions = tuple(f"Caution {n}: {samples.LONG_NAME}." for n in range(count))
        paper = read(render(view(cautions=cautions)))
        assert len(paper.pages) == 1
        assert min(type_sizes(paper)) >= LEAST_LABEL_PT
        if "does not fit" not in paper.flat:
            whole += 1
            assert all(words in paper.flat for words in cautions)
    assert whole >= 2


def long_label(**changes):
    """More cautions than 4 by 6 inches hold, of which one stays on the package."""
    cautions = (PRESCRIBED, *(f"Caution {n}: {samples.LONG_NAME}." for n in range(8)))
    return view(**{"cautions": cautions, "package_cautions": (PRESCRIBED,), "lot": "B-1"} | changes)


PRESCRIBED = "DANGER: causes serious eye damage (H318). Contains a demo acid."


def test_a_small_label_without_room_leaves_directions_and_further_cautions_to_the_placard(read):
    label = long_label()
    paper = read(render_label_small(label))
    (page,) = paper.pages
    for words in (
        "Half slow summer 24-0-3",
        "Net weight / Peso neto: 2,855.1 lb",
        "GUARANTEED ANALYSIS",
        "0.10% Chelated Iron",
        "Derived from: Urea-Triazone Solution",
        "Guaranteed by / Garantizado por: Demo Liquid Blending Plant",
        "Lot / Lote: B-1",
        f"Cautions / Precauciones: {PRESCRIBED} Local codes, the product's SDS",
        f"{DIRECTIONS_AND_ALL_CAUTIONS}: {ON_PLACARD}.",
    ):
        assert words in paper.flat
    assert "Caution 0" not in page
    assert label.directions[0] not in paper.flat
    assert min(type_sizes(paper)) >= LEAST_LABEL_PT
    placard = read(render_label_placard(label)).flat
    assert all(words in placard for words in (*label.directions, *label.cautions))


def test_a_small_label_with_room_refers_to_no_placard(read):
    label = view(package_cautions=("Caution 0.",), cautions=("Caution 0.", "Caution 1."))
    flat = read(render_label_small(label)).flat
    assert "Caution 0. Caution 1." in flat
    assert "placard" not in flat


@pytest.mark.parametrize(
    "changes",
    [
        {"package_cautions": (f"{samples.LONG_NAME}. " * 40,)},
        # Nobody is sent to a placard that cannot be printed.
        {"cautions": tuple(f"Caution {n}: {samples.LONG_NAME}." for n in range(60))},
        # A label of before says nothing of what stays on the package.
        {"package_cautions": ()},
    ],
    ids=["even-that-does-not-fit", "no-placard", "of-before"],
)
def test_a_small_label_that_cannot_be_split_says_that_it_does_not_fit(read, changes):
    flat = read(render_label_small(long_label(**changes))).flat
    assert "This label does not fit 4 by 6 in" in flat
    assert "see the placard" not in flat


@every_sheet
def test_nothing_is_printed_beyond_the_border(render, read):
    first, *_ = (dataclasses.replace(line, label="W" * 120) for line in view().guarantees)
    bare = view(other_ingredients=(), directions=(), product_name="W" * 120, guarantees=(first,))
    paper = read(render(bare))
    width, _ = SIZES[render]
    assert "".join(paper.text.split()).count("W" * 120) == 2
    for page in paper.reader.pages:
        across, down = edges(page)
        assert min(across) > 9
        assert max(across) < width - 9
        assert min(down) > 9


@every_sheet
def test_a_piece_larger_than_the_sheet_is_not_clipped_but_told(render, read):
    lines = tuple("Invented Road" for _ in range(400))
    guarantor = dataclasses.replace(view().guarantor, address_lines=lines)
    paper = read(render(view(guarantor=guarantor)))
    assert "This label does not fit" in paper.flat
    assert "Invented Road" not in paper.flat


@every_sheet
def test_the_same_view_gives_the_same_bytes_also_through_json(render):
    restored = LabelDraftView.from_json(json.loads(json.dumps(view().to_json())))
    assert restored == view()
    assert render(view()) == render(view()) == render(restored)


@every_sheet
def test_fonts_are_embedded_and_hostile_text_is_text(render, read):
    paper = read(render(view(product_name=samples.HOSTILE, lot=samples.HOSTILE)))
    assert all(embedded for _, embedded in paper.fonts), paper.fonts
    assert 'Tom & "Jane" <b>bold</b> <script>x</script> </para> café' in paper.flat


@every_sheet
def test_blanks_are_left_for_what_is_not_known_yet(render, read):
    flat = read(render(view(delivered_on=None, purchaser=None))).flat.replace(":", "")
    assert "Delivered / Entregado ____" in flat
    assert "Made for / Hecho para ____" in flat


def test_a_snapshot_from_before_the_new_parts_is_still_drawn(read):
    old = view().to_json()
    for name in ("page_url", "changes", "duties", "metals", "metals_statement",
                 "stabilized_nitrogen_statement", "purpose_statement"):  # fmt: skip
        del old[name]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        paper = read(render_label_small(LabelDraftView.from_json(old)))
    assert "GUARANTEED ANALYSIS" in paper.text
