"""The size a label is set in is the largest that fits, found without trying each."""

from dataclasses import replace

import pytest
from reportlab.platypus import Flowable, Indenter

from blendshop.documents import flowables
from blendshop.documents.document import height_of, page_count
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import PLACARD, SMALL, Sheet, _largest, _page
from tests.orders.papers.paper_samples import label_draft


def with_cautions(number):
    sample = label_draft(page_url="https://plant.example/lots/A1")
    return replace(sample, cautions=sample.cautions * number, review_notes=())


@pytest.mark.parametrize("sheet", [PLACARD, SMALL], ids=lambda sheet: sheet.name)
@pytest.mark.parametrize("cautions", [1, 4, 8, 16])
def test_the_largest_scale_that_fits_is_that_of_trying_each(sheet: Sheet, cautions: int) -> None:
    view = with_cautions(cautions)
    room = _page(sheet, view).frames[0].height
    heights = [
        height_of(sheet.story(view, sheet.type_at(scale), sheet), sheet.width)
        for scale in sheet.scales
    ]
    assert heights == sorted(heights, reverse=True)
    tried = next((at for at, height in enumerate(heights) if height <= room), len(heights))
    assert _largest(sheet, view, {}) == tried


@pytest.mark.parametrize("sheet", [PLACARD, SMALL], ids=lambda sheet: sheet.name)
def test_the_height_at_the_largest_scale_says_where_to_look(sheet: Sheet) -> None:
    measured: dict[float, list[Flowable]] = {}
    place = _largest(sheet, with_cautions(1), measured)
    assert place > 1
    assert set(measured) == {sheet.scales[at] for at in (0, place - 1, place)}


def test_the_lines_of_smaller_type_are_the_least_of_larger_ones() -> None:
    view = with_cautions(4)
    stories = [PLACARD.story(view, PLACARD.type_at(scale), PLACARD) for scale in (0.92, 0.6)]
    small = height_of(stories[1], PLACARD.width)
    least = height_of(stories[0], PLACARD.width, set_smaller=stories[1])
    assert small < least <= height_of(stories[0], PLACARD.width)


def test_what_is_indented_is_measured_in_the_width_that_is_left() -> None:
    words = "a line that has to be broken more often where there is less room for it " * 4
    indented = [Indenter(left=150), flowables.prose(words), Indenter(left=-150)]
    assert height_of(indented, 300) == height_of([flowables.prose(words)], 150)
    assert height_of(indented, 300) > height_of([flowables.prose(words)], 300)


def test_a_letter_is_set_smaller_before_it_runs_on_to_a_second_page() -> None:
    approved = [
        replace(with_cautions(number), approved_on=label_draft().drafted_on)
        for number in (1, 10, 18, 22)
    ]
    assert [page_count(render_label_draft(view)) for view in approved] == [1, 1, 1, 2]
