"""Reorders: the same recipe at today's price, differences in words, re-solved when it must be."""

import re
from decimal import Decimal

import pytest
from django.db import transaction
from django.urls import reverse

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from formulas.blends.actions import save_blend
from formulas.engine.composition import content_pct
from formulas.models import AnalysisFigure, BaseStock, Blend, BlendRevision, StockCost
from orders.models import FreightZone, Order, Package, QuantityBreak, Quote
from orders.reordering.actions import confirm_reorder
from orders.reordering.preview import guaranteed_wish
from orders.reordering.sources import reorder_of_blend, reorder_of_order, usual_terms
from tests.factories import BaseStockFactory, CompatibilityRuleFactory, TraitFactory, today
from tests.orders.planning.plant_cases import WISH, make_shop, placed_order, save_half_slow


@pytest.fixture
def spare_slow_stock(db):
    """A second, dearer source of slow-release nitrogen."""
    return BaseStockFactory(
        code="MUS",
        name="methylene-urea solution",
        density_lb_per_gal=10.5,
        analysis={"N.urea": 9.0, "N.slow": 21.0},
        cost_per_lb="0.6000",
    )


def new_cost(code, amount):
    stock = BaseStock.objects.get(code=code)
    StockCost.objects.create(stock=stock, effective_from=today(), amount=Decimal(amount), unit="lb")


def confirm(order, user, once="one", **changes):
    reorder = changes.pop("reorder", None) or reorder_of_order(order)
    digest = changes.pop("digest", reorder.digest)
    return confirm_reorder(reorder=reorder, acting_user=user, seen_digest=digest, once=once)


# ------------------------------------------------------------------------------- the preview


def test_with_nothing_changed_the_price_is_the_same_and_the_recipe_too(order):
    reorder = reorder_of_order(order)
    (line,) = reorder.lines
    assert reorder.price.total == order.total
    assert line.price_change.startswith("Price per gal unchanged at $")
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
    assert all("becomes" in text for text in line.alternatives)


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
    assert line.alternatives[0].startswith("Without it:")


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


# ------------------------------------------------------------------------------- confirming


def test_a_customer_orders_what_was_shown_at_once(order, customer):
    new_cost("TRZ", "0.4600")
    reorder = reorder_of_order(order)
    made = confirm(order, customer, reorder=reorder)
    assert isinstance(made, Order)
    assert made != order
    assert made.total == reorder.price.total
    line = made.lines.get()
    assert line.revision == order.lines.get().revision
    assert line.price_per_gal == reorder.lines[0].price.price_per_gal
    assert made.events.get().why == f"Reorder of order {order.number}."
    assert reorder_of_order(made).lines[0].price_change.startswith("Price per gal unchanged")


def test_a_double_click_makes_one_order(order, customer):
    first = confirm(order, customer, once="same")
    new_cost("TRZ", "0.9900")  # even if the price has moved since, the order is there already
    second = confirm(order, customer, once="same", digest="anything")
    assert second == first
    assert Order.objects.count() == 2
    assert confirm(order, customer, once="another") != first


def test_a_reps_confirmation_makes_one_draft_quote(order, rep):
    quote = confirm(order, rep, once="same")
    assert isinstance(quote, Quote)
    assert quote.status == "draft"
    assert quote.total == reorder_of_order(order).price.total
    assert confirm(order, rep, once="same") == quote
    assert Quote.objects.count() == 1
    assert Order.objects.count() == 1


@pytest.mark.parametrize("person", ["customer", "rep"])
def test_a_price_that_moved_since_it_was_shown_is_refused(request, order, person):
    seen = reorder_of_order(order)
    new_cost("TRZ", "0.4600")
    with pytest.raises(ChangedMeanwhile, match="nothing is ordered"):
        confirm(order, request.getfixturevalue(person), digest=seen.digest)
    assert Order.objects.count() == 1
    assert not Quote.objects.exists()


def test_a_recipe_solved_again_is_saved_as_a_revision_before_it_is_ordered(
    order, customer, spare_slow_stock
):
    BaseStock.objects.filter(code="TRZ").update(short=True)
    shown = reorder_of_order(order).lines[0].recipe
    made = confirm(order, customer)
    old, new = order.lines.get().revision, made.lines.get().revision
    assert (new.blend, new.number) == (old.blend, old.number + 1)
    assert "is short" in new.note
    saved = dict(new.lines.values_list("stock__code", "pct"))
    assert saved == pytest.approx(dict(shown))


def test_a_plant_book_blend_solved_again_for_a_customer_becomes_its_own_blend(
    rep, company, customer, spare_slow_stock
):
    make_shop()
    revision = save_half_slow(rep, None, "House blend")
    order = placed_order(rep, company, revision=revision)
    BaseStock.objects.filter(code="TRZ").update(short=True)
    made = confirm(order, customer)
    assert made.lines.get().revision.blend.company == company
    assert Blend.objects.get(company=None).revisions.count() == 1


def test_nothing_is_ordered_of_what_is_out_of_reach(order, customer):
    BaseStock.objects.filter(code="TRZ").update(retired_on=today())
    with pytest.raises(IllegalMove, match="cannot be made today"):
        confirm(order, customer)
    assert Order.objects.count() == 1
    assert BlendRevision.objects.count() == 1


def test_a_price_below_the_floor_is_not_the_customers_to_confirm(order, customer, rep):
    QuantityBreak.objects.create(above_gal=1, margin_points_off=Decimal("24.00"))
    assert reorder_of_order(order).price.needs_approval
    with pytest.raises(IllegalMove, match="needs our approval"):
        confirm(order, customer)
    quote = confirm(order, rep)
    assert quote.needs_approval


def test_a_stranger_and_a_form_without_its_mark_are_refused(order, stranger, customer):
    with pytest.raises(NotAllowed):
        confirm(order, stranger)
    with pytest.raises(BadInput):
        confirm(order, customer, once=" ")
    assert Order.objects.count() == 1


def test_a_failure_halfway_leaves_neither_revision_nor_order(
    order, customer, spare_slow_stock, monkeypatch
):
    BaseStock.objects.filter(code="TRZ").update(short=True)

    def broken(**kwargs):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("orders.reordering.actions.place_order", broken)
    with pytest.raises(RuntimeError), transaction.atomic():
        confirm(order, customer)
    assert BlendRevision.objects.count() == 1
    assert Order.objects.count() == 1


# ------------------------------------------------------------------------------- the pages


def hidden(html):
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', html))


def test_the_customer_reorders_an_order_with_one_click(order, customer, signed_in):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    html = client.get(url).content.decode()
    assert "Price per gal unchanged" in html
    assert "Order now" in html
    fields = hidden(html.split("<main", 1)[1])
    for _ in range(2):  # the second click of a double click
        answer = client.post(url, fields)
        assert answer.status_code == 302
    made = Order.objects.exclude(pk=order.pk).get()
    assert answer.url == reverse("order_detail", args=[made.number])


def test_a_price_that_moved_is_shown_again_and_can_then_be_confirmed(order, customer, signed_in):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    seen = hidden(client.get(url).content.decode().split("<main", 1)[1])
    new_cost("TRZ", "0.4600")
    again = client.post(url, seen)
    html = again.content.decode()
    assert again.status_code == 409
    assert "has changed since it was shown" in html
    assert "mainly urea-triazone solution" in html
    assert Order.objects.count() == 1
    assert client.post(url, hidden(html.split("<main", 1)[1])).status_code == 302
    assert Order.objects.count() == 2


def test_a_saved_blend_is_reordered_on_its_last_terms(order, customer, signed_in):
    blend = order.lines.get().revision.blend
    client, url = signed_in(customer), reverse("reorder_blend", args=[blend.pk])
    html = client.get(url).content.decode()
    assert html.count("<h1") == 1
    answer = client.post(url, hidden(html.split("<main", 1)[1]))
    assert answer.status_code == 302
    made = Order.objects.exclude(pk=order.pk).get()
    assert made.total == order.total


def test_a_saved_blend_is_priced_in_other_quantities(order, customer, signed_in):
    line = order.lines.get()
    client, url = signed_in(customer), reverse("reorder_blend", args=[line.revision.blend.pk])
    query = {"package": line.package_id, "quantity": 1, "ship_to": order.ship_to_id}
    html = client.get(url, query).content.decode()
    assert "1 × 265 gal tote" in html
    assert "up from" in html
    bad = client.get(url, {**query, "quantity": 0}).content.decode()
    assert "Order now" not in bad


def test_a_rep_chooses_the_place_for_a_plant_book_blend_and_drafts_a_quote(order, rep, signed_in):
    revision = save_half_slow(rep, None, "House blend")
    client, url = signed_in(rep), reverse("reorder_blend", args=[revision.blend.pk])
    first = client.get(url).content.decode()
    assert "Draft a quote" not in first
    assert "is-invalid" not in first, "nobody has filled in anything yet"
    line = order.lines.get()
    query = {"package": line.package_id, "quantity": 3, "ship_to": order.ship_to_id}
    html = client.get(url, query).content.decode()
    answer = client.post(url, hidden(html.split("<main", 1)[1]))
    quote = Quote.objects.get()
    assert answer.url == reverse("quote_detail", args=[quote.number])
    assert quote.lines.get().quantity == 3


def test_a_newer_revision_than_the_one_ordered_is_mentioned(order, rep, customer, signed_in):
    blend = order.lines.get().revision.blend
    save_blend(acting_user=rep, name="", company=None, wish=WISH, today=today(), blend=blend)
    url = reverse("reorder_order", args=[order.number])
    assert "newer revision 2" in signed_in(customer).get(url).content.decode()
    of_blend = signed_in(customer).get(reverse("reorder_blend", args=[blend.pk]))
    assert "newer revision" not in of_blend.content.decode(), "the blend starts from its newest"


def test_out_of_reach_and_recipe_changes_stand_on_the_page(
    order, customer, signed_in, spare_slow_stock
):
    client, url = signed_in(customer), reverse("reorder_order", args=[order.number])
    BaseStock.objects.filter(code="TRZ").update(short=True)
    html = client.get(url).content.decode()
    assert "The recipe has to change" in html
    assert "methylene-urea solution comes in at" in html
    BaseStock.objects.filter(code="MUS").update(short=True)
    html = client.get(url).content.decode()
    assert "cannot be made today" in html
    assert "What could be had instead" in html
    assert "Order now" not in html


def test_a_stranger_and_the_plant_cannot_open_a_reorder(order, stranger, plant_worker, signed_in):
    blend = order.lines.get().revision.blend
    urls = [
        reverse("reorder_order", args=[order.number]),
        reverse("reorder_blend", args=[blend.pk]),
    ]
    for url in urls:
        assert signed_in(stranger).get(url).status_code == 404
        assert signed_in(plant_worker).get(url).status_code == 403


# ------------------------------------------------------------------- another weight per gallon


def know_what_is_dissolved():
    BaseStock.objects.filter(code="UAN").update(
        solutes="urea 35; NH4NO3 44.5", solutes_source="test data, invented", solutes_mark="demo"
    )


@pytest.fixture
def weak_order(shop, rep, company):
    """A tote of a blend with plenty of water, where salts contract most."""
    wish = {**WISH, "targets": [{"nutrient": "N", "min": 14}], "slow_release_pct": {"min": 10}}
    revision = save_half_slow(rep, company, name="Weak", wish=wish)
    return placed_order(rep, company, quantity=2, revision=revision)


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


def test_the_page_shows_the_sentence(weak_order, rep, signed_in):
    know_what_is_dissolved()
    page = signed_in(rep).get(f"/orders/{weak_order.number}/reorder/").content.decode()
    assert "figured with a better density" in page
