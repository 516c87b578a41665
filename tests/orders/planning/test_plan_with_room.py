"""What a plan calls on target keeps every promise: the whole road, from a blend to the scale."""

import random
import re
from dataclasses import replace

import pytest
from django.urls import reverse

from blendshop.errors import BadInput
from blendshop.roles import Role
from formulas.engine.composition import content_pct
from formulas.models import BaseStock
from orders.frozen.load_plan import LoadPlan
from orders.models import Tank
from orders.papers.actions import issue_batch_ticket
from orders.planning.actions.planning import plan_batches
from orders.planning.batch_plan import AskedLoad, planned_weights
from orders.planning.load_question import load_recipe
from orders.planning.plan_words import PLANNED_BEFORE
from tests.factories import UserFactory, today
from tests.orders.inventory.stock_cases import make_lot
from tests.orders.planning.on_target import missed, text_of
from tests.orders.planning.plant_cases import WISH, placed_order, save_half_slow

NARROW = {
    **WISH,
    "targets": [
        {"nutrient": "N", "min": 24, "max": 24.6},
        {"nutrient": "K2O", "min": 3, "max": 3.2},
    ],
    "slow_release_pct": {"min": 50, "max": 53},
}
WITH_IRON = {**WISH, "targets": [*WISH["targets"], {"nutrient": "Fe", "min": 0.1, "max": 0.115}]}


def plan(order, by):
    return plan_batches(order=order, tank=Tank.objects.get(), acting_user=by)


def seeded(seed):
    return random.Random(seed)  # noqa: S311 - the same draws in every run


def weights_of(revision, volume_gal=1060.0, **more):
    return planned_weights(
        AskedLoad(
            recipe=load_recipe(revision, today()),
            tank=Tank.objects.get(),
            volume_gal=volume_gal,
            **more,
        )
    )


def certificate(stock, rng, pct=2.0):
    """Figures up to two percent off the typical ones, as certificates are."""
    return {
        key: round(typical * (1 + rng.uniform(-pct, pct) / 100), 3)
        for key, typical in BaseStock.objects.get(code=stock).analysis().items()
    }


@pytest.mark.parametrize("wish", [WISH, NARROW, WITH_IRON], ids=["plain", "narrow", "iron"])
@pytest.mark.parametrize("quantity", [1, 9])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_weight_on_target_misses_anything_promised(
    shop, rep, company, plant_worker, wish, quantity, seed
):
    rng = seeded(seed)
    Tank.objects.update(
        scale_step_lb=rng.choice([0.5, 1.0, 2.0]), fine_step_lb=0.1, fine_max_lb=60.0
    )
    # One lot a step in the first seed; several, and none for the rest, in the second.
    masses = [rng.choice([700, 4_000]), 60_000] if seed == 1 else [250, 700, 900, 1_300, 700]
    for code in ("UAN", "TRZ", "KAC", "FES"):
        for mass in masses:
            make_lot(
                BaseStock.objects.get(code=code), plant_worker, mass, figures=certificate(code, rng)
            )
    revision = save_half_slow(rep, company, wish=wish)
    batches = plan(placed_order(rep, company, revision=revision, quantity=quantity), plant_worker)
    for batch in batches:
        frozen = batch.load_plan
        assert frozen.has_tolerances
        assert missed(frozen, rng) == []
    assert [batch.load_plan.heel is None for batch in batches] == [True] + [False] * (
        len(batches) - 1
    )
    several = max(len(step.lots) for batch in batches for step in batch.load_plan.steps)
    assert (several > 1) is (seed == 2)


def test_the_check_of_these_tests_finds_a_plan_without_room(shop, rep, company, plant_worker):
    (batch,) = plan(placed_order(rep, company, quantity=1), plant_worker)
    frozen = batch.load_plan
    wide = tuple(replace(step, tolerance_lb=40 * step.tolerance_lb) for step in frozen.steps)
    assert missed(replace(frozen, steps=wide), seeded(1))


def test_a_maximum_is_a_guard_like_a_minimum(shop, rep, company, plant_worker):
    """The recipe itself stands at its maximum: half of all weights near it would be above."""
    wish = {
        **WISH,
        "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "max": 0.67}],
        "objective": {"strongest": "K2O"},
    }
    revision = save_half_slow(rep, company, wish=wish)
    (batch,) = plan(placed_order(rep, company, revision=revision), plant_worker)
    frozen = batch.load_plan
    assert frozen.promised.maxima_pct == {"K2O": 0.67}
    assert content_pct(frozen.analysis, "K2O") > 0.6, "it is worth going to the maximum here"
    assert missed(frozen, seeded(3)) == []


def test_a_window_of_no_width_is_refused_with_the_narrowest_that_can_be_made(shop, rep, company):
    targets = [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3, "max": 3}]
    revision = save_half_slow(rep, company, wish={**WISH, "targets": targets})
    with pytest.raises(BadInput, match=r"narrowest window that can be made is 3 to 3\.0"):
        weights_of(revision)


def test_a_scale_too_coarse_names_the_step_that_needs_a_finer_one(shop, rep, company, plant_worker):
    revision = save_half_slow(rep, company, wish=WITH_IRON)
    order = placed_order(rep, company, revision=revision, quantity=1)
    Tank.objects.update(scale_step_lb=5.0)
    with pytest.raises(BadInput, match=r"5 lb for FES.*FES needs a finer scale"):
        plan(order, plant_worker)


def test_ticket_and_page_print_the_tolerance_beside_the_weight_and_which_scale(
    shop, rep, company, plant_worker, signed_in
):
    Tank.objects.update(fine_step_lb=0.1, fine_max_lb=100.0)
    revision = save_half_slow(rep, company, wish=WITH_IRON)
    (batch,) = plan(placed_order(rep, company, revision=revision, quantity=1), plant_worker)
    ticket = text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))
    page = signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))
    shown = page.content.decode()
    for step in batch.load_plan.steps:
        places = 1 if step.scale == "fine" else 0
        weight = f"{step.weight_lb:,.{places}f}"
        within = f"± {step.tolerance_lb:,.{places}f}"
        scale = "small scale, 0.1 lb" if step.scale == "fine" else "main scale, 1 lb"
        assert f"{weight} {within} " in ticket
        assert re.search(f"{step.code} · about [0-9.]+ gal · {scale}", ticket)
        assert f">{weight}</span>" in shown
        assert within in shown
        assert scale in shown
    assert {step.scale for step in batch.load_plan.steps} == {"fine", "main"}
    for text in (ticket, shown):
        assert "On target means within the ± beside the weight" in " ".join(text.split())


def test_one_scale_needs_no_name(shop, rep, company, plant_worker):
    (batch,) = plan(placed_order(rep, company, quantity=2), plant_worker)
    assert "main scale" not in text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))


def test_an_open_batch_keeps_its_plan_and_is_marked(shop, rep, company, plant_worker, signed_in):
    """A plan as it was written before there were tolerances: every new key is missing."""
    (batch,) = plan(placed_order(rep, company, quantity=2), plant_worker)
    new = (
        "tolerance_pct", "heel", "least_pct", "printed_pct", "room_cost_per_gal", "cost_per_gal",
        "room_savings", "density_correction",
    )  # fmt: skip
    stored = {key: value for key, value in batch.plan.items() if key not in new}
    stored["steps"] = [
        {k: v for k, v in step.items() if k not in ("tolerance_lb", "scale", "lots")}
        for step in stored["steps"]
    ]
    batch.plan = stored
    batch.save()
    assert not LoadPlan.from_json(stored).has_tolerances
    ticket = text_of(issue_batch_ticket(batch=batch, acting_user=plant_worker))
    page = signed_in(plant_worker).get(reverse("batch_detail", args=[batch.number]))
    for text in (ticket, page.content.decode()):
        assert str(PLANNED_BEFORE) in text
        assert "±" not in text.replace("± 1 %", "")


@pytest.mark.parametrize("role", [Role.FORMULATOR, Role.OFFICE, Role.PLANT, Role.REP])
def test_only_formulator_and_office_see_what_the_room_costs(
    shop, rep, company, plant_worker, signed_in, role
):
    revision = save_half_slow(rep, company, wish=WITH_IRON)
    (batch,) = plan(placed_order(rep, company, revision=revision, quantity=1), plant_worker)
    frozen = batch.load_plan
    assert frozen.room_cost_per_gal > 0
    assert {saving.tolerance_pct for saving in frozen.room_savings} == {0.25, None}
    client = signed_in(UserFactory(role=role))
    shown = client.get(reverse("batch_detail", args=[batch.number])).content.decode()
    may = role in (Role.FORMULATOR, Role.OFFICE)
    assert (f"costs ${frozen.room_cost_per_gal:.4f} a gallon" in shown) is may
    for saving in frozen.room_savings:
        assert (f"would cost ${saving.per_gal:.4f} less" in shown) is may
    assert ("$" in shown) is may


def test_half_the_tolerance_really_saves_what_the_page_says(shop, rep, company, plant_worker):
    order = placed_order(rep, company)
    (batch,) = plan(order, plant_worker)
    wanted = batch.load_plan
    (half,) = [saving for saving in wanted.room_savings if saving.tolerance_pct == 0.25]
    Tank.objects.update(tolerance_pct=0.25)
    finer = weights_of(order.lines.get().revision, printed_pct=wanted.printed_pct).load
    saved = float(wanted.cost_per_gal) - finer.cost / finer.volume_gal
    assert saved == pytest.approx(float(half.per_gal), abs=1e-4)
