"""Orders of one recipe share a tank whatever the blend is called; each keeps its own name."""

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from formulas.models import Blend, BlendRevision, RevisionLine
from orders.labels.view import label_draft_view
from orders.models import Batch, BatchPart, Order, Tank
from orders.papers.gather import batch_ticket_view
from orders.papers.gather_batch_record import batch_record_view
from orders.papers.gather_certificate import certificate_view
from orders.papers.gather_package_labels import package_labels_view
from orders.papers.gather_packing_list import packing_list_view
from orders.papers.package_labels_pdf import render_package_labels
from orders.planning.actions.planning import combine_batches, plan_batches, plan_together
from orders.planning.same_recipe import SHARE_ROUNDING_PCT, made_as
from orders.planning.tank_sequence import tank_sequences
from orders.planning.unplanned_lines import blends_to_plan
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import fill_packages
from tests.factories import CompanyFactory, in_days
from tests.orders.labels.label_cases import text_of
from tests.orders.ordering.test_board_pages import body, main
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow
from tests.orders.production.charging_cases import charged_and_made, new_key, read_density

SPRING, SUMMER = "Spring starter", "Half slow summer"


@pytest.fixture
def spring(shop, rep):
    return save_half_slow(rep, None, name=SPRING)


@pytest.fixture
def summer(shop, rep):
    """The same wish on the same day: the same recipe."""
    return save_half_slow(rep, None, name=SUMMER)


@pytest.fixture
def orders(spring, summer, rep):
    """One tote of each, for two customers; the spring one is due first."""
    return [
        placed_order(rep, CompanyFactory(name=name), quantity=1, revision=revision)
        for name, revision in (("Brookside Lawns", spring), ("Hilltop Turf", summer))
    ]


@pytest.fixture
def shared(orders, plant_worker):
    (batch,) = plan_together(
        lines=[order.lines.get() for order in orders],
        tank=Tank.objects.get(),
        acting_user=plant_worker,
    )
    return batch


def saved(rep, name="Other", **wish):
    return save_half_slow(rep, None, name=name, wish={**WISH, **wish})


def nearly(revision, by_pct, *, grade=None):
    """A revision like the given one, with ``by_pct`` of one stock moved to another."""
    blend = Blend.objects.create(name=f"Moved {by_pct}", created_by=revision.created_by)
    copy = BlendRevision.objects.create(
        blend=blend,
        number=1,
        wish=revision.wish,
        answer=revision.answer,
        grade=grade or revision.grade,
        density_lb_per_gal=revision.density_lb_per_gal,
        created_by=revision.created_by,
    )
    for line, moved in zip(revision.lines.all(), (by_pct, -by_pct, 0, 0), strict=False):
        RevisionLine.objects.create(revision=copy, stock=line.stock, pct=line.pct + moved)
    return copy


def test_two_names_of_one_recipe_are_one_thing_to_make(spring, summer):
    assert made_as([spring, summer]) == {spring.pk: spring.pk, summer.pk: spring.pk}


@pytest.mark.parametrize(
    "wish",
    [
        {"targets": [{"nutrient": "N", "min": 22}, {"nutrient": "K2O", "min": 3}]},
        {"targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3, "max": 5}]},
        {"slow_release_pct": {"min": 50, "max": 70}},
    ],
)
def test_another_recipe_or_another_promise_is_another_thing(spring, rep, wish):
    other = saved(rep, **wish)
    assert made_as([spring, other]) == {spring.pk: spring.pk, other.pk: other.pk}


def test_shares_are_the_same_within_rounding_only(spring):
    close, apart = nearly(spring, SHARE_ROUNDING_PCT * 0.9), nearly(spring, 0.02)
    found = made_as([spring, close, apart])
    assert found[close.pk] == spring.pk
    assert found[apart.pk] == apart.pk


def test_the_same_shares_of_another_grade_are_another_thing(spring):
    other = nearly(spring, 0.0, grade="23-0-3")
    assert len(set(made_as([spring, other]).values())) == 2


def test_grouping_costs_the_same_queries_however_many_there_are(
    spring, summer, rep, django_assert_num_queries
):
    third = saved(rep)
    for revisions in ([spring, summer], [spring, summer, third]):
        fresh = list(BlendRevision.objects.filter(pk__in=[each.pk for each in revisions]))
        with django_assert_num_queries(1):
            made_as(fresh)


def test_orders_of_both_names_stand_in_one_group_to_plan(orders, plant_worker, signed_in):
    (blend,) = blends_to_plan()
    assert blend.product_names == (SPRING, SUMMER)
    assert len(blend.parts) == 2
    html = main(body(signed_in(plant_worker).get(reverse("tank_planning"))))
    assert f"{SPRING}, {SUMMER}" in html
    assert f"as {SUMMER}" in html
    assert "Plan together" in html


def test_they_are_planned_together_under_the_first_ones_name(shared):
    assert shared.load_plan.product_name == SPRING
    assert [part.product_name for part in shared.parts.all()] == [SPRING, SUMMER]
    assert [part.consignment.product_name for part in shared.parts.all()] == [SPRING, SUMMER]


def test_batches_of_both_names_are_offered_to_combine_and_combined(orders, plant_worker):
    tank = Tank.objects.get()
    old = [
        batch
        for order in orders
        for batch in plan_batches(order=order, tank=tank, acting_user=plant_worker)
    ]
    (sequence,) = tank_sequences()
    (same,) = sequence.same_blend
    assert {batch.number for batch in same.batches} == {batch.number for batch in old}
    assert same.can_combine
    (batch,) = combine_batches(batches=old, acting_user=plant_worker)
    assert [part.product_name for part in batch.parts.all()] == [SPRING, SUMMER]


def test_another_promise_is_not_planned_into_the_same_tank(orders, rep, plant_worker):
    other = placed_order(
        rep, CompanyFactory(), quantity=1, revision=saved(rep, slow_release_pct={"min": 55})
    )
    with pytest.raises(BadInput, match="different recipes"):
        plan_together(
            lines=[order.lines.get() for order in (*orders, other)],
            tank=Tank.objects.get(),
            acting_user=plant_worker,
        )
    assert not Batch.objects.exists()


def test_every_paper_of_a_part_says_its_own_products_name(shared, orders, plant_worker):
    charged_and_made(shared, plant_worker)
    read_density(shared, plant_worker)
    release_batch(batch=shared, acting_user=plant_worker)
    parts = list(shared.parts.all())
    for part in parts:
        fill_packages(part=part, net_lb=[2700], key=new_key(), acting_user=plant_worker)
    for part, order, name in zip(parts, orders, (SPRING, SUMMER), strict=True):
        assert label_draft_view(part).product_name == name
        assert certificate_view(part).product_name == name
        assert [line.product_name for line in packing_list_view(order).lines] == [name]
    labels = package_labels_view(shared)
    assert [package.product_name for package in labels.packages] == [SPRING, SUMMER]
    printed = text_of(render_package_labels(labels))
    assert printed.index(SPRING) < printed.index(SUMMER)


def test_the_plants_papers_and_pages_tell_the_names_apart(shared, orders, plant_worker, signed_in):
    client = signed_in(plant_worker)
    html = main(body(client.get(reverse("batch_detail", args=[shared.number]))))
    assert f"as {SUMMER}" in html
    assert f"as {SPRING}" not in html
    own = main(body(client.get(reverse("order_detail", args=[orders[1].number]))))
    assert f"{SUMMER}, load 1 of 1" in own
    for view in (batch_ticket_view(shared), batch_record_view(shared)):
        first, second = view.parts
        assert SPRING not in first.filling
        assert second.filling.endswith(f"as {SUMMER}")


def test_the_ticket_is_due_when_the_first_of_its_orders_is(shared, orders):
    for order, due_on in zip(orders, (in_days(9), in_days(4)), strict=True):
        Order.objects.filter(pk=order.pk).update(due_on=due_on)
    assert batch_ticket_view(shared).due_on == in_days(4)


def test_a_part_of_before_has_the_name_of_its_load(shared):
    part = shared.parts.first()
    stored = {key: value for key, value in part.delivery.items() if key != "product_name"}
    before = BatchPart(batch=shared, delivery=stored)
    assert before.consignment.product_name is None
    assert before.product_name == SPRING
