"""The day approvals begin: labels that were printed before stay in use until they say otherwise."""

import importlib
from decimal import Decimal

import pytest
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from orders.labels.actions import (
    approve_label,
    change_label,
    issue_label_draft,
    issue_label_placard,
    issue_small_label,
    withdraw_approval,
)
from orders.labels.standing import label_state
from orders.models import Batch, BatchPart, LabelApproval, LabelApprovalWithdrawn, Order
from orders.ordering.actions import mark_shipped
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import freeze_otherwise

MIGRATION = importlib.import_module("orders.migrations.0010_labels_in_use")


@pytest.fixture(scope="module")
def at_migration(django_db_setup, django_db_blocker):
    """The models as the migration sees them."""
    with django_db_blocker.unblock():
        loader = MigrationLoader(connection, replace_migrations=False)
    return loader.project_state([("orders", "0010_labels_in_use")]).apps


@pytest.fixture
def begin(at_migration):
    return lambda: MIGRATION.keep_labels_in_use(at_migration, None)


@pytest.fixture
def part(batch) -> BatchPart:
    return batch.parts.get()


def again(part: BatchPart) -> BatchPart:
    return BatchPart.objects.select_related("batch").get(pk=part.pk)


def test_a_label_printed_before_counts_as_approved_in_every_layout(part, plant_worker, begin):
    printed = issue_small_label(part=part, acting_user=plant_worker)
    begin()
    row = LabelApproval.objects.get()
    assert (row.in_use_before, row.who, row.by) == (True, "", None)
    assert row.at == printed.issued_at
    state = label_state(again(part))
    assert state.approval == row
    assert state.words.startswith("Label in use since ")
    for issue in (issue_label_draft, issue_label_placard, issue_small_label):
        text = " ".join(text_of(bytes(issue(part=part, acting_user=plant_worker).pdf)).split())
        assert "DRAFT" not in text
        assert "before labels were approved here" in text


def test_it_covers_the_same_layouts_printed_twice_by_one_row(part, plant_worker, begin):
    for issue in (issue_label_draft, issue_label_placard, issue_small_label):
        issue(part=part, acting_user=plant_worker)
    begin()
    assert LabelApproval.objects.count() == 1


def test_an_order_with_a_label_of_before_ships(part, order, office, plant_worker, begin):
    issue_label_draft(part=part, acting_user=plant_worker)
    begin()
    Batch.objects.update(status=Batch.Status.RELEASED)
    Order.objects.update(status=Order.Status.MADE)
    order.refresh_from_db()
    mark_shipped(order=order, acting_user=office, why="no serials here")
    assert order.status == "shipped"


def test_a_promise_that_changes_ends_it(part, plant_worker, begin):
    issue_label_draft(part=part, acting_user=plant_worker)
    begin()
    lines = dict(part.batch.load_plan.printed_pct)
    freeze_otherwise(part.batch, printed_pct={**lines, "K2O": Decimal("2.5")})
    state = label_state(again(part))
    assert not state.is_approved
    assert ("3% Soluble Potash (K2O)", "2.5% Soluble Potash (K2O)") in {
        (each.before, each.after) for each in state.changed
    }


def test_the_newest_label_of_a_part_is_the_one_in_use(part, formulator, begin):
    issue_label_draft(part=part, acting_user=formulator)
    change_label(
        part=part, acting_user=formulator, key="K2O", action="lower", pct=Decimal(2), why="lab"
    )
    assert label_state(again(part)).now.lines
    issue_label_placard(part=again(part), acting_user=formulator)
    begin()
    (row,) = LabelApproval.objects.all()
    assert {line.key: line.pct for line in row.approved.lines}["K2O"] == 2
    assert label_state(again(part)).is_approved


def test_what_was_never_printed_is_a_draft_and_prints_as_it_would_have(part, plant_worker, begin):
    before = label_state(part).view
    begin()
    assert not LabelApproval.objects.exists()
    assert label_state(again(part)).view == before
    assert before.is_draft


def test_a_label_printed_for_a_cancelled_load_is_not_in_use(part, plant_worker, begin):
    issue_label_draft(part=part, acting_user=plant_worker)
    Batch.objects.update(status=Batch.Status.CANCELLED)
    begin()
    assert not LabelApproval.objects.exists()


def test_going_back_takes_these_rows_and_no_approval_a_person_gave(
    part, formulator, begin, at_migration
):
    issue_label_draft(part=part, acting_user=formulator)
    begin()
    withdraw_approval(part=again(part), acting_user=formulator, why="Read at last.")
    state = label_state(again(part))
    given = approve_label(
        part=part, acting_user=formulator, seen=state.now.fingerprint,
        confirmed=tuple(state.confirms),
    )  # fmt: skip
    MIGRATION.forget_labels_in_use(at_migration, None)
    assert LabelApproval.objects.get() == given
    assert not LabelApprovalWithdrawn.objects.exists()
