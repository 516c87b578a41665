"""Changes by hand on a label: lowered, left out, put back, never raised, all of it kept."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from orders.labels.actions import (
    change_label,
    issue_label_draft,
    issue_label_placard,
    issue_small_label,
)
from orders.labels.batch_label import batch_label
from orders.labels.view import label_draft_view
from orders.models import BatchPart, LabelChange, Paper
from orders.production.actions.batches import cancel_batch
from tests.orders.labels.label_cases import text_of

LOWER, DROP, RESTORE = LabelChange.Action.LOWER, LabelChange.Action.DROP, LabelChange.Action.RESTORE


@pytest.fixture
def part(batch):
    return batch.parts.get()


def says(part: BatchPart) -> dict[str, Decimal]:
    return {line.key: line.pct for line in label_draft_view(part).guarantees}


def lower(part: BatchPart, user: User, key: str, pct: str, why: str = "margin") -> LabelChange:
    return change_label(
        part=part, acting_user=user, key=key, action=LOWER, pct=Decimal(pct), why=why
    )


def test_a_lowered_guarantee_is_printed_with_its_log(part, formulator):
    change = lower(part, formulator, "K2O", "2.5", "assay of the last lot")
    assert (change.from_pct, change.to_pct) == (Decimal(3), Decimal("2.5"))
    assert says(part)["K2O"] == Decimal("2.5")
    assert label_draft_view(part).grade == "24-0-2.5"
    flat = " ".join(
        text_of(bytes(issue_label_draft(part=part, acting_user=formulator).pdf)).split()
    )
    assert "24-0-2.5" in flat
    assert "3% lowered to 2.5% by Fran Form" in flat
    assert "assay of the last lot" in flat


def test_a_figure_finer_than_the_line_prints_is_logged_as_it_prints(part, formulator):
    change = lower(part, formulator, "N.slow", "11.8765")
    assert change.to_pct == says(part)["N.slow"] == Decimal("11.87")
    assert "lowered to 11.87%" in " ".join(line.change for line in label_draft_view(part).changes)
    with pytest.raises(BadInput, match=r"prints no figure as small as 0\.004 %"):
        lower(part, formulator, "N.slow", "0.004")


def test_a_guarantee_is_never_raised_above_the_analysis_nor_above_what_it_was_lowered_to(
    part, formulator
):
    with pytest.raises(BadInput, match="never raised"):
        lower(part, formulator, "K2O", "3.1")
    lower(part, formulator, "K2O", "2.5")
    with pytest.raises(BadInput, match="never raised"):
        lower(part, formulator, "K2O", "2.8")
    with pytest.raises(BadInput, match="says that already"):
        lower(part, formulator, "K2O", "2.5")
    assert LabelChange.objects.count() == 1


def test_putting_back_gives_what_the_analysis_allows_and_no_more(part, formulator):
    before = says(part)
    lower(part, formulator, "K2O", "2.5")
    change = change_label(
        part=part, acting_user=formulator, key="K2O", action=RESTORE, why="was a mistake"
    )
    assert (change.from_pct, change.to_pct) == (Decimal("2.5"), before["K2O"])
    assert says(part) == before
    assert LabelChange.objects.count() == 2
    with pytest.raises(BadInput, match="not changed"):
        change_label(part=part, acting_user=formulator, key="K2O", action=RESTORE, why="again")


def test_the_slow_release_claim_can_be_left_out_and_put_back(part, formulator):
    change_label(
        part=part, acting_user=formulator, key="slow_release", action=DROP, why="goes to Vermont"
    )
    view = label_draft_view(part)
    assert view.slow_release_statement == ""
    assert {line.label for line in view.guarantees if line.key == "N.slow"} == {
        "Other Water Soluble Nitrogen"
    }
    change_label(
        part=part, acting_user=formulator, key="slow_release", action=RESTORE, why="it does not"
    )
    assert label_draft_view(part).slow_release_statement


def test_lines_that_hang_on_a_changed_one_follow_it_and_the_draft_says_so(part, formulator):
    lower(part, formulator, "N", "23")
    now = says(part)
    forms = sum(pct for key, pct in now.items() if key.startswith("N."))
    assert forms == now["N"] == Decimal(23)
    notes = label_draft_view(part).review_notes
    assert any("follows from N" in note for note in notes)


@pytest.mark.parametrize(
    ("key", "action", "pct", "field"),
    [
        ("N", DROP, None, "pct"),  # stands with the grade
        ("Zn", LOWER, "0.01", "key"),  # no such line
        ("K2O", LOWER, None, "pct"),
        ("K2O", LOWER, "0", "pct"),
        ("slow_release", LOWER, "5", "pct"),
    ],
)
def test_what_cannot_be_changed_is_refused_at_its_field(part, formulator, key, action, pct, field):
    with pytest.raises(BadInput) as refused:
        change_label(
            part=part,
            acting_user=formulator,
            key=key,
            action=action,
            pct=None if pct is None else Decimal(pct),
            why="try",
        )
    assert set(refused.value.fields) == {field}
    assert not LabelChange.objects.exists()


def test_a_change_needs_a_reason_and_a_formulator(part, formulator, plant_worker, rep, office):
    with pytest.raises(BadInput, match="why"):
        lower(part, formulator, "K2O", "2.5", "  ")
    for person in (plant_worker, rep, office):
        with pytest.raises(NotAllowed):
            lower(part, person, "K2O", "2.5")


def test_the_label_of_a_cancelled_batch_stays_as_it_is(part, formulator):
    cancel_batch(batch=part.batch, acting_user=formulator, why="rain")
    with pytest.raises(IllegalMove, match="cancelled"):
        lower(part, formulator, "K2O", "2.5")


def test_a_new_paper_replaces_the_old_which_stays_as_it_was(part, formulator):
    issues = (issue_label_draft, issue_label_placard, issue_small_label)
    first = [issue(part=part, acting_user=formulator) for issue in issues]
    assert [issue(part=part, acting_user=formulator) for issue in issues] == first
    lower(part, formulator, "K2O", "2")
    second = [issue(part=part, acting_user=formulator) for issue in issues]
    assert [paper.replaces for paper in second] == first
    assert len({paper.kind for paper in second}) == 3
    old = Paper.objects.get(pk=first[1].pk)
    assert "24-0-3" in text_of(bytes(old.pdf))
    assert "24-0-2" in text_of(bytes(second[1].pdf))


def test_the_log_is_never_edited_or_deleted(part, formulator):
    change = lower(part, formulator, "K2O", "2.5")
    change.why = "something else"
    with pytest.raises(WrittenOnce):
        change.save()
    with pytest.raises(WrittenOnce):
        change.delete()
    with pytest.raises(WrittenOnce):
        LabelChange.objects.all().delete()


@pytest.mark.parametrize(
    "wrong",
    [
        {"action": LOWER, "from_pct": Decimal(2), "to_pct": Decimal(3)},
        {"action": LOWER, "from_pct": Decimal(2), "to_pct": None},
        {"action": LOWER, "from_pct": None, "to_pct": Decimal(1)},
        {"action": DROP, "from_pct": Decimal(2), "to_pct": Decimal(1)},
        {"action": RESTORE, "from_pct": None, "to_pct": None},
        {"action": "raise", "from_pct": Decimal(2), "to_pct": Decimal(3)},
        {"action": DROP, "from_pct": Decimal(2), "to_pct": None, "why": ""},
    ],
)
def test_the_database_refuses_a_row_that_raises_or_explains_nothing(part, wrong):
    row = {"part": part, "key": "K2O", "label": "Potash", "why": "because", "who": "x"} | wrong
    with pytest.raises(IntegrityError), transaction.atomic():
        LabelChange.objects.create(**row)


def test_only_the_newest_change_of_a_line_is_in_force(part, formulator):
    lower(part, formulator, "K2O", "2.8")
    lower(part, formulator, "K2O", "2.5")
    label = batch_label(part)
    assert [(c.key, c.pct) for c in label.draft.asked] == [("K2O", Decimal("2.5"))]
    assert len(label.changes) == 2


def test_the_page_changes_the_label_and_shows_what_it_refuses(
    part: BatchPart, formulator: User, signed_in: Callable[[User], Client]
) -> None:
    client = signed_in(formulator)
    url = f"/batches/{part.batch.number}/parts/1/label/change/"
    wish = {"key": "K2O", "action": "lower", "pct": "2.5", "why": "assay"}
    assert client.post(url, wish).status_code == 302
    page = client.get(f"/batches/{part.batch.number}/parts/1/label/").content.decode()
    assert "<strong>2.5</strong> (changed)" in page
    assert "3% lowered to 2.5% by Fran Form" in page
    refused = client.post(url, wish | {"pct": "2.9"})
    assert refused.status_code == 400
    assert "it can be lowered, never raised" in refused.content.decode()
    assert client.post(url, {"key": "Xe"}).status_code == 400
    assert LabelChange.objects.count() == 1
