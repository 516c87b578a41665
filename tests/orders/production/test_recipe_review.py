"""Nothing is weighed of a recipe no formulator has reviewed, unless somebody answers for it."""

import json

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.notices.models import Notice
from formulas.blends.actions import review_recipe, take_back_review
from formulas.models import BlendRevision
from orders.models import Batch, Charge, Paper
from orders.papers.actions import issue_batch_ticket, issue_pick_list
from orders.planning.recipe_review import waiting_for_review, why_not_begun
from orders.production.actions.charging import charge_lot
from orders.production.actions.go_ahead import let_go_ahead
from orders.production.actions.paper_ticket import PaperTicketRefused
from orders.production.steps import batch_steps
from tests.orders.production.charging_cases import MEANT, charge_all, made_by_ticket, new_key


@pytest.fixture
def unreviewed(batch, formulator) -> BlendRevision:
    """The batch's recipe, whose review was taken back after it was planned."""
    recipe = BlendRevision.objects.get(pk=batch.load_plan.revision_id)
    take_back_review(acting_user=formulator, revision=recipe, note="Salts out with this lot.")
    return recipe


def first_weight(batch, lots, by):
    step = batch_steps(batch)[0]
    return charge_lot(
        batch=batch,
        step=step.number,
        lot=lots.get(step.code),
        mass_lb=step.target_lb,
        key=new_key(),
        acting_user=by,
        confirmed=MEANT,
    )


def in_long_list(batch):
    return waiting_for_review(Batch.objects.filter(pk=batch.pk).for_long_list())


def test_nothing_is_weighed_nor_printed_before_the_review(
    batch, lots, unreviewed, plant_worker, formulator
):
    for by in (plant_worker, formulator):  # nor by whoever may review it, without doing so
        with pytest.raises(IllegalMove, match="no formulator has reviewed"):
            first_weight(batch, lots, by)
        for paper in (issue_batch_ticket, issue_pick_list):
            with pytest.raises(IllegalMove, match="no formulator has reviewed"):
                paper(batch=batch, acting_user=by)
    with pytest.raises(PaperTicketRefused):
        made_by_ticket(batch, plant_worker)
    batch.refresh_from_db()
    assert batch.status == "planned"
    assert not Charge.objects.exists()
    assert not Paper.objects.exists()
    assert in_long_list(batch) == {batch.pk}
    review_recipe(acting_user=formulator, revision=unreviewed)
    assert in_long_list(batch) == set()
    assert issue_batch_ticket(batch=batch, acting_user=plant_worker).kind == "batch_ticket"
    charge_all(batch, lots, plant_worker)
    assert batch.status == "charging"


def test_formulator_or_office_answer_for_one_load_with_a_reason(
    batch, lots, unreviewed, plant_worker, rep, office, formulator
):
    for by in (plant_worker, rep):
        with pytest.raises(NotAllowed):
            let_go_ahead(batch=batch, acting_user=by, why="In a hurry.")
    with pytest.raises(BadInput):
        let_go_ahead(batch=batch, acting_user=office, why=" ")
    let_go_ahead(batch=batch, acting_user=office, why="Jar test of the lot stood for two days.")
    kept = batch.events.last()
    assert (kept.by, kept.why) == (
        office,
        "Made without a review of its recipe: Jar test of the lot stood for two days.",
    )
    told = Notice.objects.filter(kind="batch_go_ahead")
    assert {notice.person for notice in told} == {plant_worker, formulator}
    with pytest.raises(IllegalMove, match="does not wait"):
        let_go_ahead(batch=batch, acting_user=formulator, why="Me too.")
    assert in_long_list(batch) == set()
    assert first_weight(batch, lots, plant_worker).batch == batch


def test_a_review_taken_back_undoes_an_earlier_word_for_the_load(
    batch, lots, unreviewed, plant_worker, office, formulator
):
    let_go_ahead(batch=batch, acting_user=office, why="Jar test is fine.")
    review_recipe(acting_user=formulator, revision=unreviewed)
    take_back_review(acting_user=formulator, revision=unreviewed, note="It is not fine.")
    assert in_long_list(batch) == {batch.pk}
    with pytest.raises(IllegalMove, match="no formulator has reviewed"):
        first_weight(batch, lots, plant_worker)


def test_a_load_that_is_begun_is_finished_and_says_that_its_review_is_gone(
    batch, lots, plant_worker, formulator, signed_in
):
    """What is in the tank is worse left half way; the floor reads it on every screen of it."""
    first_weight(batch, lots, plant_worker)
    recipe = BlendRevision.objects.get(pk=batch.load_plan.revision_id)
    take_back_review(acting_user=formulator, revision=recipe, note="Wrong order.")
    batch.refresh_from_db()
    assert why_not_begun(batch) == ""
    client = signed_in(plant_worker)
    for name in ("batch_detail", "batch_charge"):
        page = client.get(reverse(name, args=[batch.number])).content.decode()
        assert f"No review of {recipe} stands" in page
    charge_all(batch, lots, plant_worker)
    assert not [step for step in batch_steps(batch) if not step.charges]


def test_pages_and_tablet_say_what_to_do(batch, lots, unreviewed, plant_worker, office, signed_in):
    client = signed_in(plant_worker)
    detail = reverse("batch_detail", args=[batch.number])
    page = client.get(detail).content.decode()
    assert "A formulator reviews it under Requests" in page
    assert "I answer for this load" not in page
    for name in ("batch_charge", "batch_ticket_pdf", "batch_pick_list_pdf", "batch_paper"):
        assert f'href="{reverse(name, args=[batch.number])}"' not in page
    screen = client.get(reverse("batch_charge", args=[batch.number])).content.decode()
    assert "A formulator reviews it under Requests" in screen
    assert 'id="charge-form"' not in screen
    step = batch_steps(batch)[0]
    sent = {"step": step.number, "mass_lb": str(step.target_lb), "key": new_key()}
    sent |= {
        "person": plant_worker.pk,
        "charged_lb": "0",
        "lot": getattr(lots.get(step.code), "code", ""),
    }
    answer = client.post(
        reverse("batch_charge", args=[batch.number]), sent, HTTP_ACCEPT="application/json"
    )
    said = json.loads(answer.content)
    assert (answer.status_code, said["saved"]) == (409, False)
    assert "no formulator has reviewed" in said["message"]
    planning = client.get(reverse("tank_planning")).content.decode()
    assert "Recipe not reviewed: nothing is weighed yet." in planning
    assert "recipe not reviewed" in client.get(reverse("batch_list")).content.decode()
    for answer in (
        client.get(reverse("batch_ticket_pdf", args=[batch.number])),
        client.get(reverse("batch_paper", args=[batch.number])),
    ):
        assert answer.status_code == 409
    client = signed_in(office)
    go_ahead = reverse("batch_go_ahead", args=[batch.number])
    assert "Reason" in client.post(go_ahead, {"why": ""}).content.decode()
    page = client.post(go_ahead, {"why": "Jar test is fine."}, follow=True).content.decode()
    assert "Jar test is fine." in page
    assert f'href="{reverse("batch_charge", args=[batch.number])}"' in page
