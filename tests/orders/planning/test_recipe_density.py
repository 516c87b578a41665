"""What a gallon weighs: one figure in answer, plan and price, and a measured one before it."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.utils import timezone

from formulas.contracts.formulation import formulate
from formulas.engine_bridge import load_catalogue
from formulas.models import BaseStock
from orders.models import MeasuredDensity, QualityReading, ReadingSetAside, Tank
from orders.planning.actions.planning import plan_batches
from orders.planning.default_load import quoted_load
from orders.planning.recipe_density import density_correction, recipe_density_lb_per_gal
from orders.production.actions.batches import release_batch
from orders.production.actions.quality import adopt_density
from orders.production.as_made import as_made, when_finished
from orders.production.release_checks import Reading, at_reference
from orders.production.steps import batch_steps
from tests.orders.planning.plant_cases import placed_order, save_half_slow
from tests.orders.production.charging_cases import charge_all, charged_and_made, lots_of, new_key
from tests.orders.production.charging_cases import read_density as read


@pytest.fixture
def dissolved(shop):
    """The catalogue says what is dissolved in two stocks; of the slow one nothing is known."""
    source = {"solutes_source": "test data, invented", "solutes_mark": "demo"}
    BaseStock.objects.filter(code="UAN").update(solutes="urea 35; NH4NO3 44.5", **source)
    BaseStock.objects.filter(code="KAC").update(solutes="CH3COOK 50", **source)


@pytest.fixture
def weak(dissolved, rep, company):
    """A saved blend with plenty of water, where salts contract most."""
    wish = {
        "targets": [{"nutrient": "N", "min": 14}, {"nutrient": "K2O", "min": 4}],
        "slow_release_pct": {"min": 10},
    }
    return save_half_slow(rep, company, name="Weak", wish=wish)


@pytest.fixture
def planned(weak, rep, company, plant_worker):
    order = placed_order(rep, company, quantity=2, revision=weak)
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    return batch


def answered(recipe):
    body = {"recipe": [{"code": code, "pct": pct} for code, pct in recipe.items()]}
    return formulate(body, catalogue=load_catalogue(timezone.localdate())).answer


def test_answer_plan_and_tank_have_one_density(planned, plant_worker):
    """The same weights through the contract, the frozen plan and what was charged."""
    plan = planned.load_plan
    weights = {step.code: step.weight_lb for step in plan.steps}
    total = sum(weights.values())
    recipe = {code: 100 * lb / total for code, lb in weights.items()}
    density = answered(recipe).totals.density_lb_per_gal
    ideal = total / sum(step.weight_lb / step.density_lb_per_gal for step in plan.steps)
    assert density > ideal * 1.001
    assert plan.density_lb_per_gal == pytest.approx(density, abs=2e-6)
    assert plan.mass_lb / plan.volume_gal == pytest.approx(density, abs=2e-6)
    charge_all(planned, lots_of(planned, plant_worker), plant_worker)
    made = as_made(planned, batch_steps(planned))
    assert made.density_lb_per_gal == pytest.approx(density, abs=2e-6)


def test_the_page_the_interface_and_the_price_have_it_too(weak, rep, company, signed_in):
    revision = weak
    catalogue = load_catalogue(timezone.localdate())
    recipe = dict(revision.lines.values_list("stock__code", "pct"))
    density = answered(recipe).totals.density_lb_per_gal
    assert revision.density_lb_per_gal == pytest.approx(density, abs=2e-6)
    stocks = {stock.code: stock for stock in catalogue.stocks}
    assert recipe_density_lb_per_gal(revision, stocks) == revision.density_lb_per_gal
    line = placed_order(rep, company, revision=revision).lines.get()
    # Sold is what the load weighs, a little denser than the recipe for its room.
    load = quoted_load(line)
    sold = line.mass_lb / float(line.volume_gal)
    assert sold == pytest.approx(load.density_lb_per_gal, abs=2e-6)
    assert sold == pytest.approx(density, rel=0.003)
    page = signed_in(rep).get(f"/blends/{revision.blend_id}/").content.decode()
    assert f"{density:.3f} lb/gal" in page


def test_the_window_says_which_stocks_mix_ideally(planned):
    window = planned.load_plan.density_window
    assert "from the volumes of what is dissolved" in window.basis
    assert "ideal mixing of urea-triazone solution" in window.basis
    assert window.temperature_f == 60.0


def test_without_solutes_the_window_is_of_ideal_mixing(batch):
    assert "by ideal mixing of the stocks" in batch.load_plan.density_window.basis


def adopted(batch, by, formulator, lb_per_gal):
    charged_and_made(batch, by)
    reading = read(batch, by, density_lb_per_gal=lb_per_gal)
    release_batch(batch=batch, acting_user=by)
    return adopt_density(reading=reading, key=new_key(), acting_user=formulator)


def test_a_measured_density_fills_the_next_load(planned, plant_worker, formulator, rep, company):
    revision = planned.parts.get().order_line.revision
    assert density_correction(revision, planned.load_plan.density_lb_per_gal) == 1.0
    modelled = planned.load_plan.density_lb_per_gal
    measured = round(modelled * 1.006, 2)
    adopted(planned, plant_worker, formulator, measured)
    assert density_correction(revision, modelled) == pytest.approx(measured / modelled, rel=1e-9)
    order = placed_order(rep, company, quantity=2, revision=revision)
    (later,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    plan = later.load_plan
    charged_gal = plan.volume_gal - plan.heel.volume_gal
    assert plan.charged_lb / charged_gal == pytest.approx(measured, rel=2e-4)
    # The heel of the first batch, 12 of 530 gal, is counted at the density of its own plan, which
    # is 0.6 % less: 12 / 530 x 0.006 = 1.4e-4 less in the full tank.
    assert plan.heel.volume_gal == pytest.approx(12, rel=0.01)
    short = 1 - plan.density_lb_per_gal / (plan.charged_lb / charged_gal)
    assert short == pytest.approx(12 / 530 * 0.006, rel=0.1)
    assert plan.mass_lb / plan.volume_gal == pytest.approx(plan.density_lb_per_gal, rel=1e-6)
    # Two totes of 265 gal, to the plan's half percent: heavier by what was measured.
    assert plan.volume_gal == pytest.approx(530, rel=0.005)
    assert plan.mass_lb == pytest.approx(530 * measured, rel=0.005)
    line = order.lines.get()
    assert line.mass_lb == pytest.approx(530 * measured, rel=2e-4)
    made = when_finished(later, batch_steps(later))
    assert made.density_lb_per_gal == pytest.approx(plan.density_lb_per_gal, rel=5e-4)
    assert made.mass_lb / made.volume_gal == pytest.approx(made.density_lb_per_gal, rel=1e-9)


def test_the_newest_counts_and_an_older_one_at_68_f_is_brought_to_60(weak):
    """UAN and stronger fall by 0.028 % per F (Virginia Cooperative Extension SPES-199NP)."""
    rows = [adoption(weak, 2, 10.5, 68.0), adoption(weak, 1, 9.0, 60.0)]
    weak._prefetched_objects_cache = {"measured_densities": _Rows(rows)}
    assert density_correction(weak, 10.0) == pytest.approx(1.05 * (1 + 8 * 0.00028), rel=1e-4)
    weak._prefetched_objects_cache = {"measured_densities": _Rows(rows[1:])}
    assert density_correction(weak, 10.0) == pytest.approx(0.9)


def test_a_reading_set_aside_as_wrong_never_counts(weak):
    wrong = adoption(weak, 2, 10.5, 60.0)
    wrong.reading.set_aside = ReadingSetAside(why="Hydrometer was dirty.")
    rows = [adoption(weak, 1, 9.0, 60.0), wrong]
    weak._prefetched_objects_cache = {"measured_densities": _Rows(rows)}
    assert density_correction(weak, 10.0) == pytest.approx(0.9)


def adoption(revision, pk, lb_per_gal, reference_f):
    return MeasuredDensity(
        pk=pk,
        revision=revision,
        reading=QualityReading(),
        density_lb_per_gal=lb_per_gal,
        reference_f=reference_f,
    )


class _Rows(list):
    """As prefetched rows are read."""

    def all(self):
        return self

    def _clone(self):
        return self


def test_an_order_of_before_keeps_its_weight(dissolved, rep, company):
    """What was agreed is frozen; only what is made and offered later weighs otherwise."""
    BaseStock.objects.update(solutes="")
    order = placed_order(rep, company, quantity=1)
    before = order.lines.get().mass_lb
    BaseStock.objects.filter(code="UAN").update(solutes="urea 35; NH4NO3 44.5")
    assert order.lines.get().mass_lb == before
    again = placed_order(rep, company, quantity=1, revision=order.lines.get().revision)
    assert again.lines.get().mass_lb > before
    assert again.lines.get().volume_gal == order.lines.get().volume_gal == Decimal(265)


def test_a_reading_of_a_plan_of_known_salts_is_carried_by_their_volumes(planned):
    """Half UAN, half water is carried between UAN and water, not as UAN; else nothing is known."""
    plan = planned.load_plan
    assert plan.solutes_pct is None  # nothing is known of the slow stock
    known = replace(plan, steps=tuple(step for step in plan.steps if step.code != "TRZ"))
    expected = {"urea": 0.0, "NH4NO3": 0.0, "CH3COOK": 0.0}
    for step in known.steps:
        for key, pct in step.solutes.items():
            expected[key] += pct * step.weight_lb / known.charged_lb
    assert known.solutes_pct == pytest.approx(expected)
    reading = Reading(9.5, 90.0, None, "clear")
    planned.plan = known.to_json()
    carried, at_f = at_reference(planned, reading)
    assert at_f == 60.0
    as_uan = 9.5 / (1 - 30 * 0.000281)
    as_water = 9.5 * 8.3372 / 8.3033  # IAPWS-95 at 60 and 90 F
    assert as_water < carried < as_uan
