"""The text of every demo label, line by line, as another library reads it from the PDF.

The files beside this test were read against the uniform format before they were kept. A change of
wording shows here as a difference; delete the file of a label that was meant to change and run
the test once to write it anew (that run fails), then read it.
"""

import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from blendshop.accounts.models import User
from orders.labels.draft_pdf import render_label_draft
from orders.labels.sheets import render_label_placard, render_label_small
from orders.labels.view import label_draft_view
from tests.orders.labels.label_cases import WISHES, label_part, text_of

KEPT = Path(__file__).parent / "label_snapshots"
LAYOUTS = {
    "letter": render_label_draft,
    "placard": render_label_placard,
    "4x6": render_label_small,
}
#: Where each load goes: states with grade rules and prescribed sentences of their own.
STATES = {"Iron and boron": "DC", "Humic, fulvic and seaweed": "WI"}
WHOLE = re.compile(r"(?P<label>\S.*?) \.{3,} (?P<pct>\d+(?:\.\d+)?)%")
PART = re.compile(r"(?P<pct>\d+(?:\.\d+)?)% (?P<label>[^*]+)\*?")


@pytest.mark.parametrize("name", WISHES)
def test_the_label_reads_as_it_was_read_and_kept(maker: User, name: str) -> None:
    view = label_draft_view(label_part(maker, name, state=STATES.get(name, "MD")))
    different = []
    for layout, render in LAYOUTS.items():
        # A row of dots is as long as the type is wide; its length says nothing.
        text = re.sub(r"\.{4,}", "....", text_of(render(view)))
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        file = KEPT / f"{re.sub('[^a-z0-9]+', '-', name.lower())}.{layout}.txt"
        if not file.exists():
            file.write_text("\n".join(lines) + "\n")
            different.append(f"{file.name} was missing and is written now; read it")
        elif file.read_text().splitlines() != lines:
            different.append(file.name)
    assert different == []


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_printed_label_read_again_gives_back_the_guarantees(maker: User, layout: str) -> None:
    view = label_draft_view(label_part(maker, "Summer half-slow with micros"))
    view = replace(view, directions=(), cautions=())  # with them it does not fit 4 by 6 in
    lines = [line.strip() for line in text_of(LAYOUTS[layout](view)).splitlines()]
    start = lines.index("GUARANTEED ANALYSIS") + 1
    read = []
    for line in lines[start:]:
        found = WHOLE.fullmatch(line) or PART.fullmatch(line)
        if found is None:
            break
        name = found["label"].translate(str.maketrans("₂₅", "25"))
        read.append((name, Decimal(found["pct"])))
    assert read == [(line.label, line.pct) for line in view.guarantees]
    assert len(read) == 12, "total, four forms, potash, three metals and their parts"


def test_every_layout_says_the_same(maker: User) -> None:
    view = label_draft_view(label_part(maker, "Triazone and humic one to one"))
    for render in LAYOUTS.values():
        flat = " ".join(text_of(render(view)).split())
        for words in (*view.derived_from, *view.directions, *view.cautions, view.lot, view.grade):
            assert words in flat
