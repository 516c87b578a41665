"""Hazards from the fact table to the plant floor, the papers and the customer's label."""

from dataclasses import replace
from io import BytesIO

import pytest
from django.test import Client
from pypdf import PdfReader

from orders.frozen.load_plan import PlannedHeel
from orders.labels.view import label_draft_view
from orders.papers.actions import issue_batch_ticket
from orders.papers.standing_texts import cautions
from orders.planning.mixture import planned_hazards
from tests.orders.labels.label_cases import WISHES, label_part
from tests.orders.planning.plant_cases import freeze_otherwise

#: Reg. (EU) 2021/849 and 29 CFR 1910.1200 App. A, Table A.7.1: from 0.0175 % B on.
BORATES = (
    "DANGER: may damage fertility or the unborn child (H360). Contains borates, counted as boric"
    " acid."
)
CALCIUM = {
    "recipe": [{"code": "CANITRATE", "pct": 40}, {"code": "WATER", "pct": 60}],
    "fill": {"volume_gal": 265},
}
#: ECHA dossiers 15487 and 15075.
SEVERE = "Danger: causes serious eye damage (H318); harmful if swallowed (H302)"


def ticket_text(batch, by):
    paper = issue_batch_ticket(batch=batch, acting_user=by)
    pages = PdfReader(BytesIO(bytes(paper.pdf))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_blend_above_the_cut_off_says_so_in_answer_plan_ticket_and_label(maker):
    part = label_part(maker, "Iron and boron")
    solved = part.order_line.revision.solved
    told = [notice.message for notice in solved.alerts if notice.code == "mixture_hazard"]
    severities = [notice.severity for notice in solved.warnings]
    assert severities == sorted(severities, key=["stop", "caution", "info"].index)
    (planned,) = [f for f in part.batch.load_plan.findings if f.code == "mixture_hazard"]
    assert planned.severity == "caution"
    boron = part.batch.load_plan.analysis["B"]
    assert f"{boron / 0.17483:.2g} %" in planned.message  # 17.48 % B in boric acid
    assert len(told) == 1
    assert told[0].startswith("Danger: may damage fertility")
    text = ticket_text(part.batch, maker)
    assert "Danger: may damage fertility or the unborn child (H360). The blend holds" in text
    label = label_draft_view(part)
    assert BORATES in label.cautions
    assert any("Table A.7.1" in note for note in label.review_notes)


def test_what_is_only_supposed_goes_to_the_reviewer_and_not_onto_the_label(maker):
    part = label_part(maker, "Triazone and humic one to one")
    label = label_draft_view(part)
    assert not any("H350" in caution for caution in label.cautions)
    assert any("H350" in note and "value of each lot" in note for note in label.review_notes)
    told = {f.code: f.severity for f in part.batch.load_plan.findings}
    assert told["mixture_hazard_open"] == "info"


def test_the_plant_floor_reads_the_severe_words_of_calcium_nitrate(maker, monkeypatch):
    monkeypatch.setitem(WISHES, "Calcium", CALCIUM)
    part = label_part(maker, "Calcium")
    (stock,) = [s for s in part.batch.load_plan.safety if s.code == "CANITRATE"]
    assert SEVERE.split("; ")[0] in "; ".join(stock.hazards)
    assert any("Face shield" in words for words in stock.ppe)
    text = ticket_text(part.batch, maker)
    assert SEVERE in text
    assert "Face shield" in text
    client = Client()
    client.force_login(maker)
    screen = client.get(f"/batches/{part.batch.number}/charge/?step=2").content.decode()
    assert f"Hazards: {SEVERE}" in screen
    assert "DANGER: causes serious eye damage (H318). Contains calcium nitrate." in (
        label_draft_view(part).cautions
    )


def test_a_heel_of_borates_brings_its_class_to_load_and_label(batch):
    freeze_otherwise(
        batch,
        heel=PlannedHeel(
            mass_lb=batch.load_plan.mass_lb,
            volume_gal=265,
            analysis={"B": 0.1},
            words="rest of a test batch",
            batches=(),
        ),
    )
    hazards = planned_hazards(batch.load_plan)
    assert [each.hazard.code for each in hazards if each.is_certain] == ["reproductive_1"]
    assert BORATES in label_draft_view(batch.parts.get()).cautions


@pytest.mark.parametrize(("pct", "is_told"), [(0.02, True), (0.01, False)])
def test_classes_stand_before_the_standing_cautions(batch, pct, is_told):
    plan = batch.load_plan
    steps = tuple(replace(step, analysis={"B": pct}) for step in plan.steps)
    freeze_otherwise(batch, steps=steps)
    texts = [each.text for each in cautions(plan.analysis, planned_hazards(batch.load_plan))]
    assert (texts[0] == BORATES) is is_told
    assert (BORATES in texts) is is_told
