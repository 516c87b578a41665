"""The label lines of a revision: written once, kept by every later plan; what differs is shown."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from blendshop.immutable import WrittenOnce
from blendshop.roles import Role
from formulas.models import BaseStock
from orders.labels.batch_label import batch_label
from orders.models import Batch, LabelPromise, Tank
from orders.planning.actions.planning import plan_batches
from orders.planning.actions.promises import promise_for
from orders.planning.default_load import quoted_load
from orders.planning.label_lines import all_kept
from orders.planning.load_promise import load_promise
from orders.planning.quoted_difference import quoted_differences
from tests.factories import UserFactory
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow


@pytest.fixture
def revision(shop, rep, company):
    return save_half_slow(rep, company)


@pytest.fixture
def plan(rep, company, plant_worker, revision):
    def planned(quantity=2, of=revision, tank=None):
        order = placed_order(rep, company, revision=of, quantity=quantity)
        tank = tank or Tank.objects.get(name="Tank 1")
        return plan_batches(order=order, tank=tank, acting_user=plant_worker)[0]

    return planned


def test_the_first_plan_writes_the_lines_and_later_ones_keep_them(plan, revision):
    first = plan(2).load_plan
    promise = LabelPromise.objects.get(revision=revision)
    lines = promise.promised.lines_pct
    assert first.printed_pct == lines
    assert (lines["N"], lines["K2O"]) == (Decimal(24), Decimal(3)), "what was wished is printed"
    forms = [pct for key, pct in lines.items() if key.startswith("N.")]
    assert sum(forms) == lines["N"], "forms add up to the total"
    assert all(-pct.as_tuple().exponent <= 2 for pct in lines.values()), "two decimals at most"
    later = plan(4).load_plan
    assert later.printed_pct == lines
    assert LabelPromise.objects.count() == 1
    for frozen in (first, later):
        for key, pct in lines.items():
            assert frozen.least_pct[key] >= float(pct) - 1e-9


def test_lines_are_those_of_the_default_load_with_typical_stocks(plan, revision, plant_worker):
    """A weak lot on hand changes the plan and never the label."""
    weak = {"N.urea": 15.9, "N.ammoniacal": 7.5, "N.nitrate": 7.5}
    make_lot(BaseStock.objects.get(code="UAN"), plant_worker, 90_000, figures=weak)
    frozen = plan(4).load_plan
    lines = LabelPromise.objects.get(revision=revision).promised
    assert lines.load == "1,060 gal in Tank 1, typical stocks"
    twin = LabelPromise.objects.get(revision=revision)
    assert frozen.printed_pct == twin.promised.lines_pct
    # 2,590 lb of typical UAN in 11,327 lb hold 1.78 % nitrate: 1.77 % is sure and printed.
    assert lines.lines_pct["N.nitrate"] == Decimal("1.77")


def test_a_promise_is_written_once(plan, revision, plant_worker):
    plan()
    promise = LabelPromise.objects.get()
    with pytest.raises(WrittenOnce):
        promise.save()
    other = promise.promised.__class__(lines_pct={"N": Decimal(20)}, load="another")
    again = promise_for(revision=revision, lines=other, acting_user=plant_worker)
    assert again.promised == promise.promised


def test_a_load_that_cannot_keep_a_line_is_refused_and_says_which(
    plan, shop, rep, company, plant_worker
):
    """Iron was not wished and is printed all the same; then the lots on hand hold too little."""
    wish = {"recipe": [{"code": "UAN", "pct": 70}, {"code": "FES", "pct": 30}]}
    typed = save_half_slow(rep, company, "Typed", {**wish, "fill": {"volume_gal": 530}})
    plan(of=typed)
    assert LabelPromise.objects.get(revision=typed).promised.lines_pct["Fe"] >= Decimal("1.5")
    make_lot(BaseStock.objects.get(code="FES"), plant_worker, 90_000, figures={"Fe": 3.0})
    with pytest.raises(BadInput, match=r"its label promises .*Iron 1.5.*, which this load cannot"):
        plan(of=typed)
    assert Batch.objects.count() == 1


def test_a_load_of_two_products_keeps_the_lines_of_both_and_each_label_its_own():
    one, other = {"N": Decimal(24), "N.urea": Decimal("8.42")}, {
        "N": Decimal(24), "N.urea": Decimal("8.40"), "Fe": Decimal("0.1"),
    }  # fmt: skip
    assert all_kept([one, other]) == {
        "N": Decimal(24), "N.urea": Decimal("8.42"), "Fe": Decimal("0.1"),
    }  # fmt: skip


def test_a_part_freezes_the_lines_of_its_own_product(plan, revision):
    part = plan().parts.get()
    assert part.consignment.printed_pct == LabelPromise.objects.get().promised.lines_pct
    assert batch_label(part).draft.guarantees
    fewer = {key: pct for key, pct in part.consignment.printed_pct.items() if key != "N.nitrate"}
    fewer["N.urea"] = Decimal("8.40")
    part.delivery = replace(part.consignment, printed_pct=fewer).to_json()
    printed = {line.key: line.pct for line in batch_label(part).draft.guarantees}
    assert "N.nitrate" not in printed
    assert printed["N.urea"] <= Decimal("8.40")


def test_a_label_states_what_the_packages_take_and_not_the_room_above_it(plan):
    """Every weight on target makes at least what was asked, so the planned ones make more."""
    part = plan(2).parts.get()
    assert part.consignment.volume_gal > 531
    assert part.consignment.filled_gal == 530
    assert batch_label(part).draft.net.gal == pytest.approx(265)
    part.delivery = replace(part.consignment, volume_gal=529.2).to_json()
    assert batch_label(part).draft.net.gal == pytest.approx(264.6), "a tank full to its brim"


def test_the_promise_of_a_wish_has_its_minima_maxima_and_slow_share(shop, rep, company):
    wish = {
        **WISH,
        "targets": [
            {"nutrient": "N", "min": 24},
            {"nutrient": "K2O", "min": 3, "max": 3.4},
            {"nutrient": "P2O5", "max": 0},
        ],
        "slow_release_pct": {"min": 50, "max": 55},
    }
    promise = load_promise(save_half_slow(rep, company, wish=wish))
    assert promise.minima_pct == {"N": 24, "K2O": 3}
    assert promise.maxima_pct == {"K2O": 3.4, "P2O5": 0}
    assert (promise.slow_release_min_pct, promise.slow_release_max_pct) == (50, 55)


def test_a_plan_as_it_was_quoted_says_so(plan, signed_in, plant_worker):
    batch = plan(4)
    (difference,) = quoted_differences(batch)
    assert difference.is_none
    quoted = quoted_load(batch.parts.get().order_line)
    assert [(s.code, s.weight_lb) for s in sorted(quoted.steps, key=lambda s: s.code)] == sorted(
        (s.code, s.weight_lb) for s in batch.load_plan.steps
    )
    shown = signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))
    assert "Planned as it was quoted." in shown.content.decode()


@pytest.mark.parametrize("role", [Role.OFFICE, Role.PLANT])
def test_lots_that_move_a_plan_from_its_quote_are_shown_and_the_price_stays(
    plan, plant_worker, signed_in, role
):
    weak = {"N.slow": 19.5}
    make_lot(BaseStock.objects.get(code="TRZ"), plant_worker, 90_000, figures=weak)
    batch = plan(4)
    line = batch.parts.get().order_line
    (difference,) = quoted_differences(batch)
    moved = {share.name: share for share in difference.shares}["urea-triazone solution"]
    assert moved.planned_pct > moved.quoted_pct + 1, "weaker, so more of it"
    assert difference.more_cost_per_gal > 0
    assert difference.planned_cost_per_gal == batch.load_plan.cost_per_gal
    assert line.price_breakdown.load is not None
    client = signed_in(UserFactory(role=role))
    shown = client.get(reverse("batch_detail", args=[batch.number])).content.decode()
    assert ("The price stays as it was agreed." in shown) is (role == Role.OFFICE)
    assert "Against what was quoted" in shown
    assert f">{moved.quoted_pct:.2f}</td>" in shown
    assert f">{moved.planned_pct:.2f}</td>" in shown
    assert ("Material per gallon" in shown) is (role == Role.OFFICE)
    assert ("$" in shown) is (role == Role.OFFICE)
