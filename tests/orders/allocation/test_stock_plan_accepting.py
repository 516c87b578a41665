"""Only an accepted plan changes how an order is made, and it can be taken back."""

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from formulas.blends.actions import save_blend
from formulas.models import Blend, BlendRevision
from orders.allocation.actions import accept_stock_plan, restore_accepted_recipe
from orders.allocation.page import stock_plan_page
from orders.allocation.shown_plan import work_out_plan
from orders.inventory.levels import stock_levels
from orders.models import AcceptedStockPlan, Order, OrderLine, PlannedRecipe, StockReservation
from orders.planning.planned_recipes import making_revision
from orders.production.actions.batches import cancel_batch
from tests.factories import today
from tests.orders.allocation.stock_plan_cases import (
    accept,
    changed_line,
    planned,
    rows,
    stock_up,
)
from tests.orders.inventory.stock_cases import plan
from tests.orders.planning.plant_cases import WISH


def test_nothing_is_written_before_a_person_accepts(scarce, formulator, signed_in):
    before = (BlendRevision.objects.count(), StockReservation.objects.count())
    events = {order.pk: order.events.count() for order in scarce}
    page = signed_in(formulator).get(reverse("stock_plan"))
    assert page.status_code == 200
    assert (BlendRevision.objects.count(), StockReservation.objects.count()) == before
    assert {order.pk: order.events.count() for order in scarce} == events
    assert not PlannedRecipe.objects.exists()


def test_accepting_saves_a_revision_for_the_order_and_leaves_the_line(scarce, formulator, revision):
    line = changed_line(work_out_plan(today()))
    frozen = OrderLine.objects.filter(pk=line.pk).values().get()
    total = Order.objects.values_list("total", flat=True).get(pk=line.order_id)
    accepted = accept(formulator)
    assert OrderLine.objects.filter(pk=line.pk).values().get() == frozen
    assert Order.objects.values_list("total", flat=True).get(pk=line.order_id) == total
    made_by = making_revision(line)
    assert made_by.pk != revision.pk
    assert made_by.for_order_only
    assert (made_by.wish, made_by.grade) == (revision.wish, revision.grade)
    assert accepted.number in made_by.note
    # A reorder of the blend still begins where the customer left it.
    assert Blend.objects.get(pk=revision.blend_id).latest == revision


def test_every_order_of_the_plan_gets_one_event(scarce, formulator):
    before = {order.pk: order.events.count() for order in scarce}
    accepted = accept(formulator)
    for order in scarce:
        assert order.events.count() == before[order.pk] + 1
        event = order.events.last()
        assert accepted.number in event.why
        assert event.data["stock_plan"] == accepted.number
        assert event.from_status == event.to_status == "open"


def test_batches_follow_the_planned_recipe(scarce, formulator, plant_worker):
    line = changed_line(work_out_plan(today()))
    accept(formulator)
    batches = plan(line.order, plant_worker)
    made_by = making_revision(line)
    assert {batch.load_plan.revision_id for batch in batches} == {made_by.pk}
    assert {batch.load_plan.grade for batch in batches} == {line.revision.grade}
    assert "URE" in {step.code for step in batches[0].load_plan.steps}


def test_reservations_follow_the_recipe_so_that_nothing_is_short(scarce, formulator):
    short = {level.stock.code for level in stock_levels(today()) if level.short_lb}
    assert short == {"UAN"}
    accept(formulator)
    assert [level.stock.code for level in stock_levels(today()) if level.short_lb] == []
    after = work_out_plan(today())
    assert set(rows(after).values()) == {"full"}


def test_a_plan_that_is_not_what_was_shown_is_not_accepted(scarce, formulator):
    seen = planned(formulator).digest
    stock_up(formulator, UAN=500)
    with pytest.raises(ChangedMeanwhile):
        accept_stock_plan(digest=seen, acting_user=formulator)
    assert not AcceptedStockPlan.objects.exists()
    assert not PlannedRecipe.objects.exists()


def test_accepting_the_same_again_changes_nothing(two, formulator):
    stock_up(formulator, UAN=90_000, TRZ=90_000, KAC=90_000)
    first = accept(formulator)
    events = two[0].events.count()
    assert accept(formulator) == first
    assert (AcceptedStockPlan.objects.count(), two[0].events.count()) == (1, events)
    assert stock_plan_page().is_accepted


def test_with_nothing_to_plan_nothing_is_accepted(shop, formulator):
    with pytest.raises(IllegalMove):
        accept_stock_plan(digest="", acting_user=formulator)


@pytest.mark.parametrize("role", ["rep", "plant_worker", "customer"])
def test_only_formulator_and_office_accept(scarce, role, request):
    with pytest.raises(NotAllowed):
        accept(request.getfixturevalue(role))
    assert not AcceptedStockPlan.objects.exists()


def test_the_office_may_accept(scarce, office):
    assert accept(office).who == str(office)


def test_a_line_goes_back_to_the_accepted_recipe_with_its_reservations(scarce, formulator):
    line = changed_line(work_out_plan(today()))
    before = set(line.reservations.values_list("stock__code", "needed_lb"))
    accept(formulator)
    assert set(line.reservations.values_list("stock__code", "needed_lb")) != before
    restore_accepted_recipe(line=line, why="UAN came in.", acting_user=formulator)
    assert making_revision(line) == line.revision
    assert set(line.reservations.values_list("stock__code", "needed_lb")) == before
    assert "UAN came in." in line.order.events.last().why
    with pytest.raises(IllegalMove):
        restore_accepted_recipe(line=line, why="Again.", acting_user=formulator)


def test_a_line_with_batches_does_not_go_back(scarce, formulator, plant_worker):
    line = changed_line(work_out_plan(today()))
    accept(formulator)
    batches = plan(line.order, plant_worker)
    with pytest.raises(IllegalMove):
        restore_accepted_recipe(line=line, why="Too late.", acting_user=formulator)
    for batch in batches:
        cancel_batch(batch=batch, acting_user=plant_worker, why="Not now.")
    with pytest.raises(BadInput):
        restore_accepted_recipe(line=line, why=" ", acting_user=formulator)
    assert restore_accepted_recipe(line=line, why="Now.", acting_user=formulator)


def test_a_revision_for_one_order_does_not_stop_the_next_of_the_blend(scarce, formulator, revision):
    accept(formulator)
    following = save_blend(
        acting_user=formulator,
        name="",
        company=None,
        wish=WISH,
        today=today(),
        blend=revision.blend,
        based_on=revision.number,
    )
    assert following.number == revision.number + 2
    assert Blend.objects.get(pk=revision.blend_id).latest == following
