"""What a label takes beside a bare page of ReportLab with the same words in it.

pytest tests/benchmarks/test_label_speed.py --benchmark-enable --benchmark-only -s
"""

import io
from dataclasses import replace
from functools import partial

import pytest
from pypdf import PdfReader
from reportlab.lib.pagesizes import LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph, SimpleDocTemplate

from blendshop.documents.fonts import REGULAR
from blendshop.documents.text import exact
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from tests.benchmarks.figures import cpu_ms_beside, ms, ratio
from tests.orders.papers.paper_samples import label_draft

LAYOUTS = {
    "letter": (render_label_draft, LETTER),
    "placard": (render_label_placard, LETTER),
    "4x6": (render_label_small, (288, 432)),
}


def bare_page(pdf, size):
    """The same lines of text as plain paragraphs, in the same font, on as large a page."""
    lines = [
        exact(line)
        for page in PdfReader(io.BytesIO(pdf)).pages
        for line in page.extract_text().splitlines()
        if line.strip()
    ]
    style = ParagraphStyle("bare", fontName=REGULAR, fontSize=8, leading=9)

    def draw():
        document = SimpleDocTemplate(
            io.BytesIO(), pagesize=size, leftMargin=9, rightMargin=9, topMargin=9, bottomMargin=9
        )
        document.build([Paragraph(line, style) for line in lines])

    return draw


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_label_against_a_bare_page(benchmark, layout):
    render, size = LAYOUTS[layout]
    view = label_draft(page_url="https://plant.example/lots/ABC123")
    approved = replace(view, approved_on=view.drafted_on, approved_by="Fran Form")
    for name, each in (("draft", view), ("approved", approved)):
        draw = partial(render, each)
        whole, bare = cpu_ms_beside(draw, bare_page(draw(), size), 60)
        ms(f"label_{layout}_{name}", whole)
        ratio(f"label_{layout}_{name}_to_bare_page", whole / bare)
    benchmark.pedantic(render, args=(view,), rounds=1)
