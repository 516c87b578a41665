"""Room in a real tank: its scales, what stands in it already, how much it holds."""

from dataclasses import replace

import numpy as np
import pytest

from formulas.engine import (
    BlendProblem,
    NutrientWish,
)
from formulas.engine.density.mixing import volume_gal
from formulas.engine.plant.load import (
    FineScale,
    Heel,
    LoadQuestion,
    LoadScale,
    ScaleKind,
)
from formulas.engine.plant.not_weighable import NotWeighable
from formulas.engine.plant.with_room import plan_with_room
from formulas.engine.wishes import Side, WishId, WishKind
from tests.engine.lawn_stocks import (
    KTHIO25,
    UAN32,
    WATER,
)
from tests.engine.plant.load_draws import made
from tests.engine.plant.room_cases import SUMMER, UAN28, assert_holds, pounds

# Scales.


def test_a_fine_scale_takes_what_it_can_with_its_tolerance():
    question = LoadQuestion(SUMMER, 1000.0, scale=LoadScale(5.0, FineScale(0.1, 300.0)))
    planned = plan_with_room(question)
    scale = {step.code: step.scale for step in planned.steps}
    assert scale["FEDTA"] is ScaleKind.FINE
    assert scale["UAN32"] is ScaleKind.MAIN
    coarse = plan_with_room(replace(question, scale=LoadScale(5.0)))
    assert {step.scale for step in coarse.steps} == {ScaleKind.MAIN}
    # Weighing the dear little one finely is what saves.
    assert planned.cost / planned.volume_gal < coarse.cost / coarse.volume_gal


def test_a_fine_scale_is_left_where_it_takes_too_little():
    alone = plan_with_room(LoadQuestion(SUMMER, 1000.0, scale=LoadScale(5.0, FineScale(0.1, 20.0))))
    assert {step.scale for step in alone.steps} == {ScaleKind.MAIN}


def test_the_tanks_scale_replaces_the_stocks_own_steps():
    own = plan_with_room(LoadQuestion(UAN28, 1000.0))
    assert {step.division_lb for step in own.steps} == {1.0}
    tank = plan_with_room(LoadQuestion(UAN28, 1000.0, scale=LoadScale(10.0)))
    assert {step.division_lb for step in tank.steps} == {10.0}


# The heel.


def test_a_heel_is_counted_once_by_hand():
    """100 gal of 20 % N at 10 lb/gal stand under 900 gal more; worked from the weights."""
    heel = Heel(mass_lb=1000.0, volume_gal=100.0, analysis={"N.urea": 20.0})
    question = LoadQuestion(UAN28, 1000.0, heel=heel)
    planned = plan_with_room(question)
    u, w = pounds(planned)["UAN32"], pounds(planned).get("WATER", 0.0)
    mass, volume = u + w + 1000.0, u / 11.06 + w / 8.34 + 100.0
    assert planned.net_weight_lb == pytest.approx(mass)
    assert planned.volume_gal == pytest.approx(volume)
    assert planned.density_lb_per_gal == pytest.approx(mass / volume)
    assert planned.analysis["N"] == pytest.approx((32.0 * u + 20.0 * 1000.0) / mass)
    assert planned.cost == pytest.approx(0.17 * u)
    # What is charged is stronger than 28, so that all of it is 28.
    assert planned.blend.analysis["N"] > 28.5
    assert_holds(question, planned)


def test_a_heel_of_water_and_an_empty_tank():
    heel = Heel(mass_lb=8.34 * 50, volume_gal=50.0, analysis={})
    with_heel = plan_with_room(LoadQuestion(UAN28, 1000.0, heel=heel))
    empty = plan_with_room(LoadQuestion(UAN28, 1000.0))
    # The heel is part of the water that the blend needs anyway.
    assert pounds(with_heel)["WATER"] == pytest.approx(pounds(empty)["WATER"] - 417.0, abs=15)
    assert with_heel.room_cost_per_gal < 0.02


def test_a_heel_calls_for_stocks_that_the_blend_alone_does_not():
    """Without K2O in the heel the wish needs it; a heel full of it needs none charged."""
    problem = BlendProblem(
        (UAN32, KTHIO25, WATER), (NutrientWish("N", 10.0), NutrientWish("K2O", 2.0))
    )
    heel = Heel(mass_lb=1500.0, volume_gal=150.0, analysis={"K2O": 20.0})
    planned = plan_with_room(LoadQuestion(problem, 265.0, heel=heel))
    assert "KTHIO25" not in pounds(planned)
    assert_holds(LoadQuestion(problem, 265.0, heel=heel), planned)


def test_a_heel_that_spoils_the_wish_is_refused():
    heel = Heel(mass_lb=1500.0, volume_gal=150.0, analysis={"K2O": 20.0})
    problem = BlendProblem((UAN32, WATER), (NutrientWish("N", 5.0), NutrientWish("K2O", None, 1.0)))
    with pytest.raises(NotWeighable) as refused:
        plan_with_room(LoadQuestion(problem, 265.0, heel=heel))
    assert WishId(WishKind.NUTRIENT, Side.MOST, "K2O", 1) in refused.value.cannot_hold


# The volume.


def test_a_full_tank_is_a_gallon_short_at_most_and_never_over():
    planned = plan_with_room(LoadQuestion(SUMMER, 1000.0, capacity_gal=1000.0))
    question = LoadQuestion(SUMMER, 1000.0, capacity_gal=1000.0)
    weight = np.array([step.weight_lb for step in planned.steps])
    off = np.array([step.tolerance_lb for step in planned.steps])
    _, _, most = made(question, planned, weight + off)
    _, _, least = made(question, planned, weight - off)
    assert least + 1e-9 >= 999.0
    assert most <= 1000.0 + 1e-9
    assert [finding.code for finding in planned.findings].count("less_room") == 1


def test_what_runs_over_at_any_tolerance_is_said():
    question = LoadQuestion(SUMMER, 1000.0, scale=LoadScale(20.0), capacity_gal=1000.0)
    planned = plan_with_room(question)
    assert "above_capacity" in {finding.code for finding in planned.findings}
    assert planned.least_gal >= 999.0 - 1e-9


def test_a_heavier_product_than_modelled_fills_less():
    heavy = plan_with_room(LoadQuestion(UAN28, 1000.0, density_correction=1.01))
    usual = plan_with_room(LoadQuestion(UAN28, 1000.0))
    assert heavy.net_weight_lb == pytest.approx(1.01 * usual.net_weight_lb, rel=1e-3)
    assert heavy.volume_gal == pytest.approx(usual.volume_gal, rel=1e-3)


def test_volumes_are_those_of_the_mixture():
    """UAN 32 (45 % ammonium nitrate, 35 % urea) contracts with water: by the density model."""
    uan = replace(UAN32, solutes={"urea": 35.0, "NH4NO3": 44.5})
    question = LoadQuestion(BlendProblem((uan, WATER), UAN28.wishes), 1000.0, capacity_gal=1011.0)
    planned = plan_with_room(question)
    light = [step.weight_lb - step.tolerance_lb for step in planned.steps]
    heavy = [step.weight_lb + step.tolerance_lb for step in planned.steps]
    ideal = light[0] / 11.06 + light[1] / 8.34
    assert planned.least_gal == pytest.approx(volume_gal((uan, WATER), light))
    assert 1000.0 <= planned.least_gal < ideal - 1.0
    assert volume_gal((uan, WATER), heavy) <= 1011.0


def test_a_load_is_not_made_larger_so_that_divisions_matter_less():
    """24 to 24.01 % is too narrow at 265 gal, however well it went at 3,000."""
    problem = replace(SUMMER, wishes=(NutrientWish("N", 24.0, 24.01), *SUMMER.wishes[1:]))
    with pytest.raises(NotWeighable):
        plan_with_room(LoadQuestion(problem, 265.0))
