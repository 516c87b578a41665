"""A formulator approves a label: who, for what, until when, and what ships without."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.engine.label.metals import METALS
from orders.frozen.load_plan import StockMetal
from orders.labels import approved, batch_label, standing
from orders.labels.actions import (
    approve_label,
    change_label,
    issue_label_draft,
    issue_label_placard,
    issue_small_label,
    withdraw_approval,
)
from orders.labels.standing import label_state
from orders.models import (
    Batch,
    BatchPart,
    LabelApproval,
    LabelApprovalWithdrawn,
    LoweredPromise,
    Order,
    Package,
)
from orders.ordering.actions import mark_shipped
from tests.factories import PackageFactory, ShipToFactory
from tests.orders.labels.approvals import approve, approve_labels, label_url, planned_again
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import freeze_otherwise
from tests.orders.production.charging_cases import new_key, received

LAYOUTS = (issue_label_draft, issue_label_placard, issue_small_label)


def again(part: BatchPart) -> BatchPart:
    return BatchPart.objects.select_related("batch").get(pk=part.pk)


# --- Who and when ------------------------------------------------------------------------------
def test_a_label_is_a_draft_until_a_formulator_approves_it(part, formulator):
    for issue in LAYOUTS:
        assert "DRAFT" in text_of(bytes(issue(part=part, acting_user=formulator).pdf))
    approval = approve(part, formulator, note="Read against the state's text.")
    assert (approval.who, approval.note) == (str(formulator), "Read against the state's text.")
    for issue in LAYOUTS:
        text = text_of(bytes(issue(part=part, acting_user=formulator).pdf))
        assert "DRAFT" not in text
        assert "Borrador" not in text
        assert "for review" not in text
        assert f"Label approved by {formulator} on" in " ".join(text.split())


def test_the_state_s_own_text_decides_stands_on_the_review_of_a_draft_alone(part, formulator):
    def letter():
        return text_of(bytes(issue_label_draft(part=part, acting_user=formulator).pdf))

    assert "the state's own text" in letter()
    approve(part, formulator)
    assert "the state's own text" not in letter()
    assert "For the reviewer" not in letter()


def test_what_was_approved_is_kept_and_never_edited(part, formulator):
    approval = approve(part, formulator)
    kept = LabelApproval.objects.get().approved
    state = label_state(part)
    assert kept == state.now
    assert {line.key: line.pct for line in kept.lines}["N"] == Decimal(24)
    assert kept.derived_from == state.view.derived_from
    assert kept.grade_rule
    assert kept.law
    assert any("checked" in pack for pack in kept.packs)
    assert "gal" in kept.net_contents
    with pytest.raises(WrittenOnce):
        approval.save()
    with pytest.raises(WrittenOnce):
        LabelApproval.objects.all().delete()


def test_nobody_but_a_formulator_approves_or_withdraws(part, plant_worker, office, rep, formulator):
    for person in (plant_worker, office, rep):
        with pytest.raises(NotAllowed):
            approve(part, person)
    approve(part, formulator)
    for person in (plant_worker, office, rep):
        with pytest.raises(NotAllowed):
            withdraw_approval(part=part, acting_user=person, why="No.")
    assert label_state(part).is_approved


def test_the_second_of_two_people_finds_the_approval_of_the_first(part, formulator):
    seen = label_state(part).now.fingerprint
    first = approve(part)
    second = approve_label(part=part, acting_user=formulator, seen=seen)
    assert second == first
    assert LabelApproval.objects.count() == 1


def test_a_label_that_changed_since_it_was_read_is_not_approved(part, formulator):
    state = label_state(part)
    change_label(
        part=part, acting_user=formulator, key="K2O", action="lower", pct=Decimal(2), why="lab"
    )
    with pytest.raises(ChangedMeanwhile):
        approve_label(
            part=part, acting_user=formulator, seen=state.now.fingerprint,
            confirmed=tuple(state.confirms),
        )  # fmt: skip
    assert not LabelApproval.objects.exists()


def test_a_cancelled_load_s_label_is_not_approved(part, formulator):
    Batch.objects.update(status=Batch.Status.CANCELLED)
    with pytest.raises(IllegalMove, match="cancelled"):
        approve(again(part), formulator)


# --- For which loads ---------------------------------------------------------------------------
def test_the_next_load_of_revision_state_and_package_is_approved_at_once(
    part, order, office_and_plant, formulator
):
    approve(part, formulator)
    later = planned_again(order, office_and_plant)
    assert label_state(later).approval == LabelApproval.objects.get()


@pytest.mark.parametrize("other", ["state", "package"])
def test_another_state_or_package_needs_an_approval_of_its_own(
    part, order, office_and_plant, formulator, other
):
    approve(part, formulator)
    drum = PackageFactory(code="drum-55", name="55 gal drum", fill_gal=Decimal(55))
    more = {
        "state": {"ship_to": ShipToFactory(company=order.company, state="NY")},
        "package": {"package": Package.objects.get(pk=drum.pk), "quantity": 5},
    }
    later = planned_again(order, office_and_plant, **more[other])
    state = label_state(later)
    assert not state.is_approved
    assert state.ended is None
    assert state.words == "Label not approved."


def test_another_density_of_the_load_is_no_other_label(part, formulator):
    approve(part, formulator)
    freeze_otherwise(part.batch, density_lb_per_gal=part.batch.load_plan.density_lb_per_gal - 0.05)
    assert label_state(again(part)).is_approved


# --- Until when --------------------------------------------------------------------------------
def test_a_change_by_hand_ends_the_approval_and_the_page_says_what_changed(
    part, formulator, signed_in
):
    approve(part, formulator)
    change_label(
        part=part, acting_user=formulator, key="K2O", action="lower", pct=Decimal(2), why="lab"
    )
    state = label_state(again(part))
    assert not state.is_approved
    changed = {(each.before, each.after) for each in state.changed}
    assert ("3% Soluble Potash (K2O)", "2% Soluble Potash (K2O)") in changed
    html = signed_in(formulator).get(label_url(part)).content.decode()
    assert "Label not approved: it is not as it was approved." in html
    assert f"The approval by {formulator} on" in html
    assert "3% Soluble Potash (K2O)" in html
    assert "Approve this label" in html
    put_back = change_label(
        part=part, acting_user=formulator, key="K2O", action="restore", why="it holds"
    )
    assert put_back.to_pct == 3
    assert label_state(again(part)).is_approved, "word for word what was approved"


def test_another_promise_of_the_load_ends_it(part, formulator):
    approve(part, formulator)
    lines = dict(part.batch.load_plan.printed_pct)
    freeze_otherwise(part.batch, printed_pct={**lines, "K2O": Decimal("2.5")})
    state = label_state(again(part))
    assert "Soluble Potash (K2O)" in [str(each.what) for each in state.changed]


def test_another_order_of_the_sources_ends_it(part, formulator, monkeypatch):
    approve(part, formulator)
    real = standing.label_draft_view

    def turned(part, label=None):
        view = real(part, label)
        object.__setattr__(view, "derived_from", view.derived_from[::-1])
        return view

    monkeypatch.setattr(standing, "label_draft_view", turned)
    (difference,) = label_state(part).changed
    assert str(difference.what) == "Derived from"
    assert sorted(difference.before.split(", ")) == sorted(difference.after.split(", "))


def test_another_rule_of_the_state_ends_it(part, formulator, monkeypatch):
    approve(part, formulator)
    entry = batch_label.ToCheck("Maryland, words", "Say it.", "Md. Code 1", is_verified=True)
    real = batch_label._to_check
    monkeypatch.setattr(batch_label, "_to_check", lambda packs: (*real(packs), entry))
    (difference,) = label_state(part).changed
    assert (str(difference.what), difference.before) == ("Rule of the state", "")
    assert difference.after == "Maryland, words: Say it. (Md. Code 1)"


def test_another_grade_rule_of_the_state_ends_it(part, formulator, monkeypatch):
    approve(part, formulator)
    monkeypatch.setattr(approved, "_grade_rule_words", lambda rule: "whole numbers only")
    (difference,) = label_state(part).changed
    assert str(difference.what) == "Grade rule of the state"
    assert difference.after == "whole numbers only"


def test_an_approval_withdrawn_makes_a_draft_again_and_says_who_and_why(
    part, formulator, signed_in
):
    approve(part, formulator)
    client = signed_in(formulator)
    withdraw = reverse("label_withdraw", args=[part.batch.number, part.position])
    assert client.post(withdraw, {"withdrawn_why": " "}).status_code == 400
    assert label_state(part).is_approved
    page = client.post(withdraw, {"withdrawn_why": "Wrong source named."}, follow=True)
    html = page.content.decode()
    assert f"withdrawn by {formulator} on" in html
    assert "Wrong source named." in html
    assert "DRAFT" in text_of(bytes(issue_label_draft(part=part, acting_user=formulator).pdf))
    with pytest.raises(IllegalMove, match="nothing to withdraw"):
        withdraw_approval(part=part, acting_user=formulator, why="Again.")
    assert LabelApprovalWithdrawn.objects.get().approval == LabelApproval.objects.get()
    approve(part, formulator)
    assert label_state(part).is_approved


# --- A load that misses a line -----------------------------------------------------------------
def weak(charged, plant_worker):
    return charged(TRZ=received("TRZ", plant_worker, figures={"N.urea": 7.0, "N.slow": 19.0}))


def lowered(batch, by) -> None:
    LoweredPromise.objects.create(
        batch=batch, grade="22-0-3", minima_pct={"N": 22.0, "K2O": 3.0}, agreed_with="Casey Owner",
        why="weak lot", key=new_key(), by=by, who=str(by),
    )  # fmt: skip


def test_a_load_whose_lines_follow_its_weights_is_another_label(
    part, charged, plant_worker, formulator, order, office_and_plant
):
    approve(part, formulator)
    part = weak(charged, plant_worker)
    state = label_state(again(part))
    assert state.label.missed
    assert not state.is_approved
    assert ("", part.batch.number) in {(each.before, each.after) for each in state.changed}
    with pytest.raises(IllegalMove, match="Not kept by what was charged"):
        approve(again(part), formulator)
    lowered(part.batch, formulator)
    own = approve(again(part), formulator)
    assert own.approved.only_of == part.batch.number
    assert label_state(again(part)).approval == own


def test_who_released_a_load_that_misses_a_line_gave_the_reason(part, charged, plant_worker):
    part = weak(charged, plant_worker)
    assert label_state(again(part)).forbids
    Batch.objects.filter(pk=part.batch_id).update(status=Batch.Status.RELEASED)
    assert not label_state(again(part)).forbids


# --- Metals and unverified rules ---------------------------------------------------------------
@pytest.fixture
def limited(monkeypatch):
    """As if the label guaranteed zinc, from which limits of metals follow."""
    monkeypatch.setattr(batch_label, "guaranteed", lambda draft: {"Zn": 1.0})


def with_metals(batch, ppm: float | None) -> None:
    """Every stock of the plan holds so much of every metal, or nobody knows."""
    figures = {metal: StockMetal(ppm, "certificate 7", None) for metal in METALS}
    steps = batch.load_plan.steps
    known = {} if ppm is None else figures
    freeze_otherwise(batch, steps=tuple(replace(step, metals=known) for step in steps))


def test_a_metal_above_its_limit_forbids_the_approval_and_ends_one_for_the_load(
    part, formulator, limited
):
    with_metals(part.batch, 0.0)
    part = again(part)
    approve(part, formulator)
    with_metals(part.batch, 5_000.0)
    state = label_state(again(part))
    assert not state.is_approved
    assert "Above the metals limit: " in state.forbids[0]
    with pytest.raises(IllegalMove, match="metals limit"):
        approve(again(part), formulator)


def test_metals_nobody_assessed_ask_for_a_tick(part, formulator, limited):
    state = label_state(part)
    assert "Lead" in state.confirms["metals"]
    rest = tuple(name for name in state.confirms if name != "metals")
    with pytest.raises(BadInput) as refused:
        approve_label(part=part, acting_user=formulator, seen=state.now.fingerprint, confirmed=rest)
    assert set(refused.value.fields) == {"metals"}


def test_an_approval_of_assessed_metals_covers_no_load_with_one_open(part, formulator, limited):
    with_metals(part.batch, 0.0)
    part = again(part)
    assert "metals" not in label_state(part).confirms
    approve(part, formulator)
    with_metals(part.batch, None)
    state = label_state(again(part))
    assert not state.is_approved
    assert [str(each.what) for each in state.changed] == ["Metals not assessed"]


def test_unverified_rules_of_the_state_are_named_and_ask_for_a_tick(part, formulator, signed_in):
    state = label_state(part)
    unverified = [item for item in state.label.to_check if not item.is_verified]
    assert unverified
    assert all(item.topic in state.confirms["unverified"] for item in unverified)
    approve_url = reverse("label_approve", args=[part.batch.number, part.position])
    client = signed_in(formulator)
    answer = client.post(approve_url, {"seen": state.now.fingerprint, "metals": "on"})
    assert answer.status_code == 400
    assert "Tick this before you approve" in answer.content.decode()
    assert not LabelApproval.objects.exists()
    ticks = dict.fromkeys(state.confirms, "on")
    done = client.post(approve_url, {"seen": state.now.fingerprint, **ticks}, follow=True)
    assert f"Label approved by {formulator} on" in done.content.decode()


# --- Shipping ----------------------------------------------------------------------------------
def test_a_tote_does_not_ship_without_the_approval_of_its_label(
    part, order, office, formulator, signed_in
):
    Batch.objects.update(status=Batch.Status.RELEASED)
    Order.objects.update(status=Order.Status.MADE)
    order.refresh_from_db()
    with pytest.raises(IllegalMove, match=f"label is not approved: {part.batch.number}"):
        mark_shipped(order=order, acting_user=office, why="It is urgent.")
    client = signed_in(office)
    ship, page = (reverse(name, args=[order.number]) for name in ("order_ship", "order_detail"))
    assert client.post(ship, {"why": "urgent"}).status_code == 409
    html = client.get(page).content.decode()
    assert ship not in html
    assert label_url(part) in html
    assert Order.objects.get(pk=order.pk).status == "made"
    approve_labels(order, formulator)
    assert ship in client.get(page).content.decode()
    mark_shipped(order=order, acting_user=office, why="no serials here")
    assert order.events.last().data["label_approvals"] == [LabelApproval.objects.get().pk]


def test_a_withdrawn_approval_ships_nothing(part, order, office, formulator):
    Batch.objects.update(status=Batch.Status.RELEASED)
    Order.objects.update(status=Order.Status.MADE)
    order.refresh_from_db()
    approve_labels(order, formulator)
    withdraw_approval(part=part, acting_user=formulator, why="Wrong.")
    with pytest.raises(IllegalMove, match="label is not approved"):
        mark_shipped(order=order, acting_user=office, why="no serials here")
