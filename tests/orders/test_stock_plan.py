"""Scarce stock is shared in a plan; only an accepted plan changes how an order is made."""

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from formulas.actions.blends import save_blend, save_recipe_for_order
from formulas.changed_recipe import other_recipe
from formulas.engine.composition import content_pct
from formulas.engine_bridge import load_catalogue
from formulas.grade import grade_of
from formulas.models import BaseStock, Blend, BlendRevision
from orders.actions.batches import cancel_batch
from orders.actions.stock_plan import accept_stock_plan, take_back_recipe
from orders.models import AcceptedStockPlan, Order, OrderLine, PlannedRecipe, StockReservation
from orders.planned_recipes import making_revision
from orders.stock_levels import stock_levels
from orders.stock_plan import guarantees
from orders.stock_plan_page import StockPlanPage, stock_plan_page
from tests.factories import BaseStockFactory, ShipToFactory, in_days, today
from tests.orders.plant_cases import WISH, make_shop, placed_order, save_half_slow
from tests.orders.stock_cases import make_lot, plan


@pytest.fixture
def shop(db: None) -> None:
    """The simple plant, and a dearer urea solution that can stand in for UAN."""
    make_shop()
    BaseStockFactory(
        code="URE",
        name="strong urea solution",
        density_lb_per_gal=12.5,  # denser than what it stands in for
        analysis={"N.urea": 32.0},
        traits=["urea"],
        cost_per_lb="0.5000",
    )


@pytest.fixture
def revision(shop: None, rep: User, company: Company) -> BlendRevision:
    return save_half_slow(rep, company)


def due(order: Order, days: int) -> Order:
    Order.objects.filter(pk=order.pk).update(due_on=in_days(days))
    order.refresh_from_db()
    return order


def need(order: Order, code: str) -> Decimal:
    row = StockReservation.objects.get(order_line__order=order, stock__code=code)
    return row.needed_lb


def stock_up(by: User, **lb: Any) -> None:
    for code, mass in lb.items():
        make_lot(BaseStock.objects.get(code=code), by, round(Decimal(mass), 3))


@pytest.fixture
def two(revision: BlendRevision, rep: User, company: Company) -> tuple[Order, Order]:
    """Two orders alike; the first is due earlier."""
    place = ShipToFactory(company=company)
    first, second = (placed_order(rep, company, revision=revision, ship_to=place) for _ in range(2))
    return due(first, 3), due(second, 20)


@pytest.fixture
def scarce(two: tuple[Order, Order], formulator: User) -> tuple[Order, Order]:
    """UAN for one of the two and a little; urea solution to stand in for it."""
    one = need(two[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=40_000, KAC=10_000, URE=40_000)
    return two


def rows(page: StockPlanPage) -> dict[str, str]:
    return {row.order.number: row.verdict for row in page.orders}


def accept(by: User) -> AcceptedStockPlan:
    return accept_stock_plan(digest=stock_plan_page(today()).digest, acting_user=by)


def test_with_enough_of_everything_every_order_is_made_as_ordered(two, formulator):
    stock_up(formulator, UAN=90_000, TRZ=90_000, KAC=90_000)
    page = stock_plan_page(today())
    assert rows(page) == {two[0].number: "full", two[1].number: "full"}
    assert (page.changed, page.purchases) == ((), ())


def test_without_any_lot_nothing_is_known_and_nothing_planned(two):
    page = stock_plan_page(today())
    assert (page.keeps_lots, page.orders, page.digest) == (False, (), "")


def test_the_earlier_order_gets_what_is_there_and_the_lack_is_counted_once(two, formulator):
    one = need(two[0], "KAC")
    stock_up(formulator, UAN=90_000, TRZ=90_000, KAC=one * Decimal("1.25"))
    page = stock_plan_page(today())
    assert rows(page) == {two[0].number: "full", two[1].number: "waits"}
    (buy,) = page.purchases
    assert buy.code == "KAC"
    assert buy.buy_lb == pytest.approx(float(one) * 0.75, rel=1e-3)
    assert buy.buy_by == two[1].due_on
    assert [row.order for row in page.orders] == [two[0], two[1]]
    assert page.orders[1].lines[0].missing[0].code == "KAC"


def test_what_a_planned_batch_still_takes_is_not_shared_again(two, formulator, plant_worker):
    one = need(two[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=90_000, KAC=90_000)
    plan(two[1], plant_worker)
    page = stock_plan_page(today())
    assert rows(page) == {two[0].number: "waits"}
    assert {each.code for each in page.committed} == {"UAN", "TRZ", "KAC"}
    assert not page.committed_short


def test_planned_batches_that_lack_stock_are_named(two, formulator, plant_worker):
    stock_up(formulator, UAN=10, TRZ=90_000, KAC=90_000)
    plan(two[1], plant_worker)
    (short,) = stock_plan_page(today()).committed_short
    assert short.code == "UAN"
    assert short.lb == pytest.approx(float(need(two[1], "UAN")) - 10, rel=0.02)


def test_held_lots_are_not_planned_with(two, formulator):
    stock_up(formulator, TRZ=90_000, KAC=90_000)
    make_lot(BaseStock.objects.get(code="UAN"), formulator, 90_000, held_reason="Cloudy.")
    assert set(rows(stock_plan_page(today())).values()) == {"waits"}


def test_a_change_makes_both_and_keeps_everything_that_was_told(scarce, revision):
    page = stock_plan_page(today())
    assert sorted(rows(page).values()) == ["changed", "full"]
    (line,) = page.changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    analysis = changed.answer["analysis"]
    assert grade_of(analysis) == revision.grade
    assert analysis["N"] >= 24 - 1e-6
    assert 50 - 1e-4 <= changed.answer["slow_release_pct"] < 51
    assert line.shares["URE"] > 1
    used = {row.code: (row.used_lb, row.on_hand_lb) for row in page.stocks}
    assert all(lb <= there + 0.01 for lb, there in used.values())
    assert any("strong urea solution, new in it" in change.words for change in line.changes)
    assert "do a jar test before the batch" in line.jar_words


def test_no_more_orders_are_changed_than_have_to_be(revision, rep, company, formulator):
    """UAN for the smallest of three: it keeps its recipe, whatever the engine spread first."""
    place = ShipToFactory(company=company)
    orders = [
        placed_order(rep, company, revision=revision, ship_to=place, quantity=quantity)
        for quantity in (2, 3, 4)
    ]
    one = need(orders[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.3"), TRZ=90_000, KAC=90_000, URE=90_000)
    verdicts = rows(stock_plan_page(today()))
    assert [verdicts[order.number] for order in orders] == ["full", "changed", "changed"]


def test_the_stock_covers_the_gallons_of_a_denser_recipe(scarce, revision):
    (line,) = stock_plan_page(today()).changed
    changed = other_recipe(revision, line.shares, load_catalogue(today()))
    density = changed.answer["totals"]["density_lb_per_gal"]
    (row,) = [row for row in stock_plan_page(today()).stocks if row.code == "UAN"]
    assert line.mass_lb >= line.candidate.volume_gal * density
    # It weighs more than by its own recipe, which is lighter.
    assert line.mass_lb > 1.001 * line.candidate.mass_lb
    assert row.used_lb <= row.on_hand_lb + 1e-6


def test_rounded_phosphate_does_not_keep_a_recipe_from_being_changed(
    revision, rep, company, formulator
):
    """Its frozen analysis is rounded, and its own recipe has to count as keeping it."""
    BaseStockFactory(
        code="APP", analysis={"N.ammoniacal": 10.3, "P2O5": 34.7}, cost_per_lb="0.0100"
    )
    wish = {
        "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "P2O5", "min": 1}],
        "stock_limits": [{"code": "APP", "max_pct": 7.00018}],
        "fill": {"volume_gal": 265},
    }
    green = save_half_slow(rep, company, name="Green", wish=wish)
    # 7.00018 % of 34.7 is 2.42906246, a little more than what is frozen.
    assert content_pct(green.analysis, "P2O5") == 2.429062
    order = placed_order(rep, company, revision=green)
    stock_up(formulator, UAN=10)
    (row,) = stock_plan_page(today()).orders
    assert (row.order, row.verdict, row.lines[0].why_fixed) == (order, "waits", "")


def test_nothing_is_written_before_a_person_accepts(scarce, formulator, signed_in):
    before = (BlendRevision.objects.count(), StockReservation.objects.count())
    events = {order.pk: order.events.count() for order in scarce}
    page = signed_in(formulator).get(reverse("stock_plan"))
    assert page.status_code == 200
    assert (BlendRevision.objects.count(), StockReservation.objects.count()) == before
    assert {order.pk: order.events.count() for order in scarce} == events
    assert not PlannedRecipe.objects.exists()


def changed_line(page: StockPlanPage) -> OrderLine:
    (row,) = page.changed
    return row.line


def test_accepting_saves_a_revision_for_the_order_and_leaves_the_line(scarce, formulator, revision):
    line = changed_line(stock_plan_page(today()))
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
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    batches = plan(line.order, plant_worker)
    made_by = making_revision(line)
    assert {batch.plan["revision_id"] for batch in batches} == {made_by.pk}
    assert {batch.plan["grade"] for batch in batches} == {line.revision.grade}
    assert "URE" in {step["code"] for step in batches[0].plan["steps"]}


def test_reservations_follow_the_recipe_so_that_nothing_is_short(scarce, formulator):
    short = {level.stock.code for level in stock_levels(today()) if level.short_lb}
    assert short == {"UAN"}
    accept(formulator)
    assert [level.stock.code for level in stock_levels(today()) if level.short_lb] == []
    after = stock_plan_page(today())
    assert set(rows(after).values()) == {"full"}


def test_a_plan_that_is_not_what_was_shown_is_not_accepted(scarce, formulator):
    seen = stock_plan_page(today()).digest
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
    assert stock_plan_page(today()).is_accepted


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
    line = changed_line(stock_plan_page(today()))
    before = set(line.reservations.values_list("stock__code", "needed_lb"))
    accept(formulator)
    assert set(line.reservations.values_list("stock__code", "needed_lb")) != before
    take_back_recipe(line=line, why="UAN came in.", acting_user=formulator)
    assert making_revision(line) == line.revision
    assert set(line.reservations.values_list("stock__code", "needed_lb")) == before
    assert "UAN came in." in line.order.events.last().why
    with pytest.raises(IllegalMove):
        take_back_recipe(line=line, why="Again.", acting_user=formulator)


def test_a_line_with_batches_does_not_go_back(scarce, formulator, plant_worker):
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    batches = plan(line.order, plant_worker)
    with pytest.raises(IllegalMove):
        take_back_recipe(line=line, why="Too late.", acting_user=formulator)
    for batch in batches:
        cancel_batch(batch=batch, acting_user=plant_worker, why="Not now.")
    with pytest.raises(BadInput):
        take_back_recipe(line=line, why=" ", acting_user=formulator)
    assert take_back_recipe(line=line, why="Now.", acting_user=formulator)


def scarce_for(revision, rep, company, formulator):
    """Two orders of a revision and UAN for one of them, with urea solution to stand in."""
    place = ShipToFactory(company=company)
    orders = [placed_order(rep, company, revision=revision, ship_to=place) for _ in range(2)]
    one = need(orders[0], "UAN")
    stock_up(formulator, UAN=one * Decimal("1.2"), TRZ=40_000, KAC=10_000, URE=40_000)
    return orders


def test_a_stock_the_customer_wanted_left_out_does_not_join(shop, rep, company, formulator):
    revision = save_half_slow(rep, company, wish={**WISH, "exclude": ["URE"]})
    scarce_for(revision, rep, company, formulator)
    page = stock_plan_page(today())
    assert page.changed == ()
    assert sorted(rows(page).values()) == ["full", "waits"]


def test_another_stock_takes_the_place_of_one_that_is_left_out(shop, rep, company, formulator):
    BaseStockFactory(
        code="URX",
        name="other urea solution",
        analysis={"N.urea": 32.0},
        traits=["urea"],
        cost_per_lb="0.6000",
    )
    revision = save_half_slow(rep, company, wish={**WISH, "exclude": ["URE"]})
    scarce_for(revision, rep, company, formulator)
    stock_up(formulator, URX=40_000)
    (line,) = stock_plan_page(today()).changed
    assert "URX" in line.shares
    assert "URE" not in line.shares


def test_a_stock_marked_as_short_does_not_join(scarce, formulator):
    BaseStock.objects.filter(code="URE").update(short=True)
    assert stock_plan_page(today()).changed == ()


def test_a_change_that_breaks_a_limit_of_the_wish_is_not_proposed(shop, rep, company, formulator):
    """The engine does not know of single limits; the check afterwards does."""
    wish = {**WISH, "stock_limits": [{"code": "URE", "max_pct": 1}]}
    revision = save_half_slow(rep, company, wish=wish)
    scarce_for(revision, rep, company, formulator)
    page = stock_plan_page(today())
    assert page.changed == ()
    (waiting,) = [row for row in page.orders if row.verdict == "waits"]
    assert "URE" in waiting.lines[0].why_fixed


def test_a_margin_keeps_its_own_recipe(shop, rep, company, formulator):
    revision = save_half_slow(rep, company, wish={**WISH, "margin": {"chance": 0.05}})
    with pytest.raises(BadInput, match="margin"):
        other_recipe(revision, {"TRZ": 100.0}, load_catalogue(today()))


@pytest.mark.parametrize(
    ("shares", "word"),
    [
        ({"TRZ": 100.0}, "above|below|wish"),  # no potash, too much nitrogen
        ({"NONE": 100.0}, "no stock"),
        ({"TRZ": 60.0, "KAC": 30.0}, "100"),
    ],
)
def test_a_recipe_beside_the_wish_is_never_saved(revision, formulator, shares, word):
    with pytest.raises(BadInput, match=word):
        save_recipe_for_order(
            acting_user=formulator,
            revision=revision,
            shares=shares,
            catalogue=load_catalogue(today()),
            note="",
        )
    assert BlendRevision.objects.count() == 1


def test_guarantees_hold_grade_slow_share_and_never_more_phosphate(revision):
    wishes, slow = guarantees(revision)
    limits = {wish.nutrient: (wish.min_pct, wish.max_pct) for wish in wishes}
    assert limits["N"] == (24.0, pytest.approx(24.1, abs=2e-4))
    assert limits["K2O"] == (3.0, pytest.approx(3.1, abs=2e-4))
    assert limits["P2O5"] == (None, 0.0)
    assert slow is not None
    assert (slow.min_pct, slow.max_pct) == (50, pytest.approx(51, abs=1e-5))


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


# ---- pages


def test_the_page_shows_the_change_in_words_and_accepts_by_its_button(
    scarce, formulator, signed_in
):
    client = signed_in(formulator)
    page = client.get(reverse("stock_plan"))
    text = page.content.decode()
    assert "Now, with another recipe" in text
    assert "strong urea solution, new in it" in text
    assert "$" in text
    digest = page.context["plan"].digest
    done = client.post(reverse("stock_plan_accept"), {"digest": digest}, follow=True)
    assert "Accepted as SP-" in done.content.decode()
    assert PlannedRecipe.objects.count() == 1


def test_a_stale_plan_is_shown_again(scarce, formulator, signed_in):
    answer = signed_in(formulator).post(reverse("stock_plan_accept"), {"digest": "old"})
    assert answer.status_code == 409
    assert "Nothing was accepted." in answer.content.decode()
    assert not AcceptedStockPlan.objects.exists()


def test_the_plant_reads_the_plan_without_costs_and_without_the_button(
    scarce, plant_worker, signed_in
):
    text = signed_in(plant_worker).get(reverse("stock_plan")).content.decode()
    assert "Now, with another recipe" in text
    assert "$" not in text
    assert "Accept this plan" not in text


def test_the_change_is_taken_back_on_the_page(scarce, formulator, signed_in):
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    client = signed_in(formulator)
    assert "Back to the accepted recipe" in client.get(reverse("stock_plan")).content.decode()
    url = reverse("stock_plan_take_back", args=[line.order.number, line.position])
    client.post(url, {"why": "UAN came in."})
    assert making_revision(line) == line.revision


def test_the_order_says_by_which_revision_it_is_made_and_the_customer_is_not_troubled(
    scarce, formulator, customer, signed_in
):
    line = changed_line(stock_plan_page(today()))
    accept(formulator)
    url = reverse("order_detail", args=[line.order.number])
    told = f"revision {making_revision(line).number}</a> of an accepted"
    assert told in signed_in(formulator).get(url).content.decode()
    seen = signed_in(customer).get(url).content.decode()
    assert "stock plan" not in seen.lower()


def test_the_plan_of_many_orders_takes_no_more_queries(
    revision, rep, company, formulator, django_assert_max_num_queries
):
    place = ShipToFactory(company=company)
    orders = [
        placed_order(rep, company, revision=revision, ship_to=place, quantity=1 + number % 5)
        for number in range(20)
    ]
    most = float(need(orders[0], "UAN")) * 30
    stock_up(formulator, UAN=most, TRZ=800_000, KAC=200_000, URE=800_000)
    with django_assert_max_num_queries(40):
        page = stock_plan_page(today())
    assert len(page.changed) > 5
