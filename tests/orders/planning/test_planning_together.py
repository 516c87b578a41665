"""Orders for one blend in one load: planned together, combined, charged, told apart on papers."""

from decimal import Decimal

import pytest

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.roles import Role
from orders.inventory.levels import open_needs
from orders.inventory.trace import trace
from orders.labels.actions import issue_label_draft
from orders.models import Batch, Order, Paper, StockReservation, Tank
from orders.ordering.actions import cancel_order, mark_shipped
from orders.papers.actions import (
    issue_batch_record,
    issue_batch_ticket,
    issue_certificate,
    issue_package_labels,
    issue_packing_list,
)
from orders.planning.actions.planning import combine_batches, plan_batches, plan_together
from orders.planning.unplanned_lines import blends_to_plan
from orders.production.actions.batches import cancel_batch, release_batch
from orders.production.actions.charging import charge_lot
from orders.production.actions.packaging import fill_packages
from orders.production.filling import filling_parts
from orders.production.steps import batch_steps
from orders.tracing.table import table
from tests.factories import CompanyFactory, ShipToFactory, UserFactory, in_days
from tests.orders.labels.approvals import approve_labels
from tests.orders.labels.label_cases import text_of
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow
from tests.orders.production.charging_cases import (
    charged_and_made,
    lots_of,
    made_uncharged,
    new_key,
    read_density,
)


@pytest.fixture
def house_blend(shop, rep):
    """A blend of the plant's own, which every customer may order."""
    return save_half_slow(rep, None)


@pytest.fixture
def tank(house_blend):
    return Tank.objects.get()  # 1,200 gal: four totes


@pytest.fixture
def order_of(rep, house_blend):
    def order(name, quantity, *, state="MD", due_in=None, **more):
        company = CompanyFactory(name=name)
        ship_to = ShipToFactory(company=company, state=state)
        placed = placed_order(
            rep, company, quantity=quantity, ship_to=ship_to, **({"revision": house_blend} | more)
        )
        if due_in is not None:
            Order.objects.filter(pk=placed.pk).update(due_on=in_days(due_in))
            placed.refresh_from_db()
        return placed

    return order


@pytest.fixture
def two(order_of):
    return order_of("Brookside Lawns", 1), order_of("Hilltop Turf", 2, state="NY")


def another(rep):
    """A blend that promises another slow-release share."""
    return save_half_slow(rep, None, name="Another", wish={**WISH, "slow_release_pct": {"min": 55}})


def lines_of(*orders):
    return [order.lines.get() for order in orders]


def parts(batch):
    return [
        (part.order_line.order.company.name, part.quantity)
        for part in batch.parts.select_related("order_line__order__company")
    ]


@pytest.fixture
def shared(two, tank, plant_worker):
    (batch,) = plan_together(lines=lines_of(*two), tank=tank, acting_user=plant_worker)
    return batch


def test_two_orders_for_one_blend_become_one_load(shared, two):
    assert parts(shared) == [("Brookside Lawns", 1), ("Hilltop Turf", 2)]
    assert shared.target_gal == pytest.approx(3 * 265, rel=0.01)
    gal = [part.consignment.volume_gal for part in shared.parts.all()]
    assert sum(gal) == pytest.approx(shared.target_gal, abs=1e-6)
    assert gal[1] == pytest.approx(2 * gal[0], abs=1e-6)
    for order in two:
        order.refresh_from_db()
        assert order.status == "planned"
        assert shared.number in order.events.last().why


def test_the_earliest_due_order_is_in_the_first_load(order_of, tank, plant_worker):
    late, soon = order_of("Late Lawns", 3, due_in=9), order_of("Soon Lawns", 3, due_in=2)
    first, second = plan_together(lines=lines_of(late, soon), tank=tank, acting_user=plant_worker)
    assert parts(first) == [("Soon Lawns", 3)]
    assert parts(second) == [("Late Lawns", 3)]
    assert [(b.load_number, b.load_count) for b in (first, second)] == [(1, 2), (2, 2)]


def test_only_what_is_not_planned_yet_is_planned(order_of, tank, plant_worker):
    big, small = order_of("Big Lawns", 5), order_of("Small Lawns", 1)
    kept, cancelled = plan_batches(order=big, tank=tank, acting_user=plant_worker)  # 3 and 2
    cancel_batch(batch=cancelled, acting_user=plant_worker, why="pump broke")
    (batch,) = plan_together(lines=lines_of(big, small), tank=tank, acting_user=plant_worker)
    assert sorted(parts(batch)) == [("Big Lawns", 2), ("Small Lawns", 1)]
    assert blends_to_plan() == []
    with pytest.raises(IllegalMove, match="planned already"):
        plan_together(lines=lines_of(big), tank=tank, acting_user=plant_worker)
    kept.refresh_from_db()
    assert kept.status == "planned"


def test_different_recipes_are_not_planned_together(order_of, two, tank, rep, plant_worker):
    other = order_of("Other Lawns", 1, revision=another(rep))
    with pytest.raises(BadInput, match="different recipes"):
        plan_together(lines=lines_of(*two, other), tank=tank, acting_user=plant_worker)
    assert not Batch.objects.exists()


def test_planning_together_is_not_for_reps(two, tank, rep):
    with pytest.raises(NotAllowed):
        plan_together(lines=lines_of(*two), tank=tank, acting_user=rep)


def test_what_is_to_plan_stands_together_by_recipe_with_the_loads_of_each_tank(two, rep, order_of):
    other = order_of("Other Lawns", 5, revision=another(rep))
    Tank.objects.create(
        name="Drum mixer", capacity_gal=100, smallest_gal=20, scale_step_lb=1, active=True
    )
    same, alone = sorted(blends_to_plan(), key=lambda blend: -len(blend.parts))
    assert {part.line.order for part in same.parts} == set(two)
    assert [part.line.order for part in alone.parts] == [other]
    assert same.gal == 3 * 265
    small, usual = same.tanks
    assert (usual.loads, alone.tanks[1].loads) == (1, 2)
    assert same.best_tank == usual.tank
    assert "more than Drum mixer takes" in small.refusal


def test_planned_batches_of_one_blend_are_combined_and_nothing_is_lost(two, tank, plant_worker):
    old = [
        batch
        for order in two
        for batch in plan_batches(order=order, tank=tank, acting_user=plant_worker)
    ]
    reserved = list(StockReservation.objects.order_by("pk").values_list("needed_lb", flat=True))
    (new,) = combine_batches(batches=old, acting_user=plant_worker)
    assert sorted(parts(new)) == [("Brookside Lawns", 1), ("Hilltop Turf", 2)]
    for batch in old:
        batch.refresh_from_db()
        assert batch.status == "cancelled"
    for order in two:
        order.refresh_from_db()
        assert order.status == "planned"
        assert f"combined into {new.number}" in order.events.last().why
    assert reserved == list(
        StockReservation.objects.order_by("pk").values_list("needed_lb", flat=True)
    )


def test_what_does_not_fit_fewer_loads_is_left_as_it_is(order_of, tank, plant_worker):
    old = [
        batch
        for order in (order_of("One Lawns", 3), order_of("Two Lawns", 3))
        for batch in plan_batches(order=order, tank=tank, acting_user=plant_worker)
    ]
    with pytest.raises(IllegalMove, match=r"2 loads of .* also when combined"):
        combine_batches(batches=old, acting_user=plant_worker)
    assert [b.status for b in Batch.objects.all()] == ["planned", "planned"]


def test_a_charged_batch_is_combined_with_nothing(two, tank, plant_worker):
    old = [
        batch
        for order in two
        for batch in plan_batches(order=order, tank=tank, acting_user=plant_worker)
    ]
    made_uncharged(old[0], plant_worker)
    with pytest.raises(IllegalMove, match="made already"):
        combine_batches(batches=old, acting_user=plant_worker)
    assert Batch.objects.filter(status="cancelled").count() == 0


def test_what_is_charged_into_a_shared_load_lowers_what_its_orders_still_need(shared, plant_worker):
    lots = lots_of(shared, plant_worker)
    before = {stock: sum(need.lb for need in needs) for stock, needs in open_needs().items()}
    water, step = batch_steps(shared)[:2]
    for each in (water, step):
        charge_lot(
            batch=shared, step=each.number, lot=lots.get(each.code), mass_lb=each.target_lb,
            key=new_key(), acting_user=plant_worker,
        )  # fmt: skip
    stock = lots[step.code].stock_id
    after = {stock: sum(need.lb for need in needs) for stock, needs in open_needs().items()}
    left = before[stock] - step.target_lb
    # Each order keeps at least nothing, so a load weighed a little off leaves a little.
    assert after.get(stock, 0) == pytest.approx(max(left, 0), abs=Decimal("0.01") * before[stock])
    assert {key: lb for key, lb in after.items() if key != stock} == {
        key: lb for key, lb in before.items() if key != stock
    }


def test_the_release_of_a_shared_load_makes_both_orders_made(shared, two, plant_worker):
    charged_and_made(shared, plant_worker)
    read_density(shared, plant_worker)
    release_batch(batch=shared, acting_user=plant_worker)
    for order in two:
        order.refresh_from_db()
        assert order.status == "made"


def test_a_cancelled_shared_load_opens_both_orders_again(shared, two, plant_worker):
    cancel_batch(batch=shared, acting_user=plant_worker, why="pump broke")
    for order in two:
        order.refresh_from_db()
        assert order.status == "open"


def test_an_order_that_is_cancelled_leaves_the_other_to_be_planned_again(shared, two, office):
    gone, stays = (Order.objects.get(pk=order.pk) for order in two)
    cancel_order(order=gone, acting_user=office, why="moved away")
    shared.refresh_from_db()
    stays.refresh_from_db()
    assert (shared.status, stays.status) == ("cancelled", "open")
    (left,) = blends_to_plan()
    assert [(part.line.order, part.quantity) for part in left.parts] == [(stays, 2)]


@pytest.fixture
def fillable(shared, plant_worker):
    charged_and_made(shared, plant_worker)
    read_density(shared, plant_worker)
    release_batch(batch=shared, acting_user=plant_worker)
    return shared


@pytest.fixture
def filled(fillable, plant_worker):
    for part, count in zip(fillable.parts.all(), (1, 2), strict=True):
        fill_packages(
            part=part, net_lb=[Decimal(2700)] * count, key=new_key(), acting_user=plant_worker
        )
    return fillable


def test_serials_count_through_the_load_and_each_order_has_its_own(filled, two):
    serials = [
        [package.serial for package in part.packages.order_by("pk")] for part in filled.parts.all()
    ]
    assert serials == [
        [f"{filled.number}-01"],
        [f"{filled.number}-02", f"{filled.number}-03"],
    ]


def test_what_one_order_was_filled_above_its_due_is_not_suggested_for_the_other(
    fillable, plant_worker
):
    """3,500 lb are in one package; of a load of 6,000 lb 2,500 lb are left for the other two."""
    part = fillable.parts.first()
    fill_packages(part=part, net_lb=[Decimal(3500)], key=new_key(), acting_user=plant_worker)
    first, second = filling_parts(fillable, Decimal(6000))
    assert (first.to_fill, second.to_fill) == (0, 2)
    assert second.each_lb == 1250
    _, none = filling_parts(fillable, Decimal(3000))
    assert none.each_lb == 0


def test_each_customer_has_a_label_and_a_certificate_of_its_own(filled, plant_worker):
    first, second = filled.parts.all()
    for part, own, other in (
        (first, "Brookside Lawns", "Hilltop Turf"),
        (second, "Hilltop Turf", "Brookside Lawns"),
    ):
        for issue in (issue_label_draft, issue_certificate):
            text = text_of(bytes(issue(part=part, acting_user=plant_worker).pdf))
            assert own in text
            assert other not in text
    label = text_of(bytes(issue_label_draft(part=second, acting_user=plant_worker).pdf))
    assert "New York" in label
    assert "2 × 265 gal totes" in label


def test_a_customer_reads_its_own_papers_of_a_shared_load_only(filled, two, plant_worker):
    for part in filled.parts.all():
        issue_label_draft(part=part, acting_user=plant_worker)
        issue_certificate(part=part, acting_user=plant_worker)
    own = UserFactory(role=Role.CUSTOMER, company=two[0].company)
    seen = Paper.objects.visible_to(own)
    assert {paper.part.order_line.order for paper in seen} == {two[0]}
    assert {paper.kind for paper in seen} == {"label_draft", "certificate"}


def test_the_plants_papers_tell_whose_what_is(filled, two, plant_worker):
    for paper in (
        issue_batch_ticket(batch=filled, acting_user=plant_worker),
        issue_batch_record(batch=filled, acting_user=plant_worker),
        issue_package_labels(batch=filled, acting_user=plant_worker),
    ):
        text = text_of(bytes(paper.pdf))
        for order in two:
            assert order.company.name in text
    packing = text_of(bytes(issue_packing_list(order=two[0], acting_user=plant_worker).pdf))
    assert f"{filled.number}-01" in packing
    assert f"{filled.number}-02" not in packing


def test_a_trace_of_a_lot_finds_both_customers_and_of_a_package_its_own(filled):
    lot = next(step.charges[0].lot for step in batch_steps(filled) if step.charges[0].lot)
    found = trace(lot.code)
    assert found.customers == ("Brookside Lawns", "Hilltop Turf")
    assert [row[14:17:2] for row in table(found)] == [
        ("Brookside Lawns", f"{filled.number}-01"),
        ("Hilltop Turf", f"{filled.number}-02"),
        ("Hilltop Turf", f"{filled.number}-03"),
    ]
    found = trace(f"{filled.number}-02")
    assert (found.customers, found.package_count) == (("Hilltop Turf",), 1)
    (batch,) = found.batches
    assert [[p.serial for p in part.packages] for part in batch.parts] == [[f"{filled.number}-02"]]


def test_the_planning_page_plans_and_combines(two, tank, plant_worker, signed_in):
    client = signed_in(plant_worker)
    page = " ".join(client.get("/planning/").content.decode().split())
    assert "Plan together" in page
    assert "Tank 1: 1 load" in page
    chosen = [line.pk for line in lines_of(two[0])]
    for lines in (chosen, [line.pk for line in lines_of(two[1])]):
        client.post("/planning/plan/", {"lines": lines, "tank": tank.pk})
    page = client.get("/planning/").content.decode()
    assert "Combine into 1 load" in page
    numbers = list(Batch.objects.values_list("number", flat=True))
    answer = client.post("/planning/combine/", {"batches": numbers}, follow=True)
    assert "Combined into" in answer.content.decode()
    assert Batch.objects.live().count() == 1


def test_the_planning_page_refuses_in_a_sentence(two, tank, plant_worker, signed_in):
    client = signed_in(plant_worker)
    answer = client.post("/planning/plan/", {"tank": tank.pk})
    assert answer.status_code == 400
    assert "Choose at least one order" in answer.content.decode()


def test_a_filled_order_ships_without_a_word_and_the_other_one_does_not(shared, two, plant_worker):
    charged_and_made(shared, plant_worker)
    read_density(shared, plant_worker)
    release_batch(batch=shared, acting_user=plant_worker)
    part = shared.parts.first()
    fill_packages(part=part, net_lb=[Decimal(2700)], key=new_key(), acting_user=plant_worker)
    first, second = (Order.objects.get(pk=order.pk) for order in two)
    for order in (first, second):
        approve_labels(order)
    mark_shipped(order=first, acting_user=plant_worker)
    with pytest.raises(BadInput, match=f"2 of {shared.number}"):
        mark_shipped(order=second, acting_user=plant_worker)
