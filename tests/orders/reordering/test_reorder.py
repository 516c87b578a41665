"""Reorders: the same recipe at today's price, differences in words, re-solved when it must be."""

import re
from decimal import Decimal

import pytest

from blendshop.errors import BadInput
from formulas.engine.composition import content_pct
from formulas.models import AnalysisFigure, BaseStock
from orders.models import FreightZone, Order, Package
from orders.reordering.preview import guaranteed_wish
from orders.reordering.sources import reorder_of_blend, reorder_of_order, usual_terms
from tests.factories import BaseStockFactory, CompatibilityRuleFactory, TraitFactory, today
from tests.orders.planning.plant_cases import placed_order, save_half_slow
from tests.orders.reordering.reorder_cases import confirm, know_what_is_dissolved, new_cost


def test_with_nothing_changed_the_price_is_the_same_and_the_recipe_too(order):
    reorder = reorder_of_order(order)
    (line,) = reorder.lines
    assert reorder.price.total == order.total
    assert line.price_change.startswith(
        f"Price per gal unchanged at ${line.price.price_per_gal:.4f} since"
    )
    assert order.number in line.price_change
    assert (line.wish, line.reasons, line.changes) == (None, (), ())


@pytest.mark.parametrize(
    ("code", "cost", "words"),
    [
        ("TRZ", "0.4600", "up from .* mainly urea-triazone solution"),
        ("KAC", "0.3000", "down from .* mainly potassium acetate solution"),
        ("UAN", "0.2500", "up from .* mainly urea ammonium nitrate solution"),
    ],
)
def test_a_changed_cost_is_told_in_words_with_the_stock_behind_it(order, code, cost, words):
    new_cost(code, cost)
    (line,) = reorder_of_order(order).lines
    assert re.search(words, line.price_change)
    old, new = order.lines.get().price_per_gal, line.price.price_per_gal
    assert f"from ${old:.2f} to ${new:.2f}" in line.price_change
    assert line.wish is None, "a cost alone never changes the recipe"


def test_the_main_reason_may_be_freight(order):
    FreightZone.objects.update(per_load=Decimal("900.00"))
    (line,) = reorder_of_order(Order.objects.get(pk=order.pk)).lines
    assert "mainly freight" in line.price_change


def test_no_cost_and_no_margin_is_told_to_the_customer(order):
    new_cost("TRZ", "0.4600")
    (line,) = reorder_of_order(order).lines
    assert "margin" not in line.price_change
    assert "0.46" not in line.price_change
    assert len(re.findall(r"\$", line.price_change)) == 2


@pytest.mark.parametrize("gone", ["short", "retired"])
def test_a_stock_that_is_gone_is_replaced_under_the_same_guarantees(order, spare_slow_stock, gone):
    stock = BaseStock.objects.filter(code="TRZ")
    stock.update(short=True) if gone == "short" else stock.update(retired_on=today())
    (line,) = reorder_of_order(order).lines
    assert any("urea-triazone solution is" in reason for reason in line.reasons)
    assert "TRZ" not in line.recipe
    assert line.recipe["MUS"] > 0
    analysis = {
        key: sum(
            pct * BaseStock.objects.get(code=code).analysis().get(key, 0.0) / 100
            for code, pct in line.recipe.items()
        )
        for key in ("N.urea", "N.ammoniacal", "N.nitrate", "N.slow", "K2O")
    }
    total_n = content_pct(analysis, "N")
    assert total_n >= 24 - 1e-6
    assert analysis["K2O"] >= 3 - 1e-6
    assert analysis["N.slow"] / total_n >= 0.5 - 1e-6
    told = " ".join(line.changes)
    assert "urea-triazone solution leaves the recipe" in told
    assert "methylene-urea solution comes in at" in told
    assert "mainly methylene-urea solution" in line.price_change


def test_what_is_out_of_reach_says_what_and_what_could_be_had(order):
    BaseStock.objects.filter(code="TRZ").update(retired_on=today())
    reorder = reorder_of_order(order)
    assert reorder.price is None
    assert reorder.lines == ()
    (line,) = reorder.lost
    assert any("retired" in reason for reason in line.reasons)
    assert any("slow" in wish.lower() for wish in line.conflict)
    assert line.alternatives
    assert all("becomes" in str(instead) for instead in line.alternatives)


def test_a_stock_the_wish_insists_on_is_named_when_it_is_gone(order, rep, company):
    BaseStockFactory(code="HUM", name="humic extract", analysis={"humic_acid": 6.0})
    wish = {
        "targets": [{"nutrient": "N", "min": 10}],
        "stock_limits": [{"code": "HUM", "min_pct": 2}],
    }
    revision = save_half_slow(rep, company, "Humic", wish)
    BaseStock.objects.filter(code="HUM").update(short=True)
    reorder = reorder_of_blend(revision.blend, **terms_of(order))
    (line,) = reorder.lost
    assert any("humic extract is short" in wish for wish in line.conflict)
    assert str(line.alternatives[0]).startswith("Without it:")


def test_a_limit_on_a_gone_stock_that_only_caps_it_is_no_obstacle(
    order, rep, company, spare_slow_stock
):
    wish = {
        "targets": [{"nutrient": "N", "min": 20}],
        "slow_release_pct": {"min": 40},
        "stock_limits": [{"code": "TRZ", "max_pct": 60}],
    }
    revision = save_half_slow(rep, company, "Capped", wish)
    BaseStock.objects.filter(code="TRZ").update(short=True)
    reorder = reorder_of_blend(revision.blend, **terms_of(order))
    assert reorder.lines[0].wish.stock_limits == ()


def test_a_recipe_without_targets_is_solved_again_to_what_its_label_guaranteed(
    order, rep, company, spare_slow_stock
):
    wish = {"recipe": [{"code": "TRZ", "pct": 50}, {"code": "UAN", "pct": 50}]}
    revision = save_half_slow(rep, company, "Half and half", wish)
    # Half of 28 % and half of 32 % N is 30 % N; 10.08 of it is slow: 33.6 % of N.
    assert guaranteed_wish(revision).contract_json() == {
        "targets": [{"nutrient": "N", "min": 30.0}],
        "slow_release_pct": {"min": 33.6},
    }
    BaseStock.objects.filter(code="TRZ").update(short=True)
    (line,) = reorder_of_blend(revision.blend, **terms_of(order)).lines
    assert set(line.recipe) >= {"MUS", "UAN"}


def test_a_rule_that_now_stops_the_recipe_has_it_solved_again(order, spare_slow_stock):
    CompatibilityRuleFactory(
        trait_a=TraitFactory(code="urea_triazone"), trait_b=TraitFactory(code="nitrate")
    )
    (line,) = reorder_of_order(order).lines
    assert any("must not meet" in reason for reason in line.reasons)
    assert not {"TRZ", "UAN"} <= set(line.recipe)


def test_an_assay_that_no_longer_holds_the_promise_has_it_solved_again(order):
    AnalysisFigure.objects.filter(key="K2O").update(pct=20.0)
    (line,) = reorder_of_order(order).lines
    assert any("2.50 % K2O, less than the 3 % promised" in reason for reason in line.reasons)
    assert line.recipe["KAC"] == pytest.approx(15.0)


def test_a_package_or_place_out_of_use_is_said(order):
    Package.objects.filter(code="tote-265").update(active=False)
    with pytest.raises(BadInput, match="no longer offered"):
        reorder_of_order(order)
    Package.objects.update(active=True)
    type(order.ship_to).objects.update(active=False)
    with pytest.raises(BadInput, match="no longer a ship-to"):
        reorder_of_order(Order.objects.get(pk=order.pk))


def terms_of(order):
    line = order.lines.get()
    return {"package": line.package, "quantity": line.quantity, "ship_to": order.ship_to}


def test_a_blend_starts_with_the_terms_of_its_last_order(order, company):
    line = order.lines.get()
    assert usual_terms(line.revision.blend, company) == {
        "package": line.package_id,
        "quantity": 2,
        "ship_to": order.ship_to_id,
    }


def test_a_blend_never_ordered_has_nothing_to_compare_with(order, rep, company):
    revision = save_half_slow(rep, company, "Never ordered")
    (line,) = reorder_of_blend(revision.blend, **terms_of(order)).lines
    assert "no earlier order" in line.price_change


# ------------------------------------------------------------------- another weight per gallon


def test_a_reorder_says_once_that_the_weight_has_moved_and_what_it_costs(weak_order, rep, office):
    then = weak_order.lines.get()
    know_what_is_dissolved()
    reorder = reorder_of_order(weak_order)
    (line,) = reorder.lines
    was = then.price_breakdown.blend.density_lb_per_gal
    now = line.request.density_lb_per_gal
    assert now > was + 0.01
    assert f"{now:.2f} lb/gal instead of {was:.2f} lb/gal" in line.density_change
    assert f"since order {weak_order.number}" in line.density_change
    # Nothing else has moved, so the whole difference of the price is the weight's, but for the
    # steps of the scale in which both loads are planned.
    moved = line.price.price_per_gal - then.price_per_gal
    assert moved > 0
    told = re.search(r"makes the price per gal \$([\d.]+) higher", line.density_change)
    assert float(told[1]) == pytest.approx(float(moved), abs=0.002)
    assert line.wish is None
    # What is ordered now is what the next reorder is compared with: nothing more to say.
    quote = confirm(weak_order, rep, reorder=reorder)
    ordered = quote.lines.get()
    assert ordered.price_breakdown.blend.density_lb_per_gal == now
    weighed = ordered.price_breakdown.load.density_lb_per_gal
    assert ordered.mass_lb == pytest.approx(weighed * 530, rel=1e-6)
    again = placed_order(rep, weak_order.company, quantity=2, revision=then.revision)
    assert reorder_of_order(again).lines[0].density_change == ""


def test_the_weight_is_told_apart_from_a_dearer_stock(weak_order):
    know_what_is_dissolved()
    (before,) = reorder_of_order(weak_order).lines
    new_cost("UAN", "0.2800")
    (line,) = reorder_of_order(weak_order).lines
    told = [float(re.search(r"\$([\d.]+)", each.density_change)[1]) for each in (before, line)]
    assert told[0] < told[1] < 1.6 * told[0]  # the same pounds, each a little dearer
    assert "mainly urea ammonium nitrate solution" in line.price_change


def test_without_another_density_nothing_is_said_of_it(weak_order):
    new_cost("UAN", "0.2800")
    assert [line.density_change for line in reorder_of_order(weak_order).lines] == [""]
