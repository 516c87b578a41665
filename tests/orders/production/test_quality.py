"""Quality readings: inside the windows, or held until a formulator says why it may leave."""

import pytest

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from orders.frozen.load_plan import DensityWindow, PhWindow
from orders.models import MeasuredDensity, QualityReading, Tank
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.production.actions.quality import adopt_density, record_reading
from orders.production.release_checks import release_hindrances
from tests.orders.planning.plant_cases import freeze_otherwise, placed_order
from tests.orders.production.charging_cases import (
    charged_and_made,
    made_by_ticket,
    new_key,
    read_density,
    reading_of,
)


def test_a_reading_inside_its_windows_lets_the_plant_release(made, plant_worker):
    reading = read_density(made, plant_worker)
    assert reading.is_inside
    assert made.status == "made"
    release_batch(batch=made, acting_user=plant_worker)
    assert made.status == "released"


def test_a_charged_batch_is_not_released_by_the_plant_without_a_reading(made, plant_worker):
    with pytest.raises(NotAllowed, match="No density has been read"):
        release_batch(batch=made, acting_user=plant_worker)
    assert made.status == "made"


def test_a_reading_at_another_temperature_is_carried_to_the_window_s_own(made, plant_worker):
    """UAN 28: 10.76 lb/gal at 30 °F, 10.67 at 60, 10.58 at 90 (Virginia Coop. Ext. SPES-199)."""
    freeze_otherwise(made, density_window=DensityWindow(10.665, 10.675, "UAN 28", 60.0))
    for density, at_f in ((10.76, 30.0), (10.58, 90.0)):
        reading = read_density(made, plant_worker, density_lb_per_gal=density, temperature_f=at_f)
        assert reading.density_at_reference == pytest.approx(10.67, abs=0.003)
        assert reading.is_inside
    warm = read_density(made, plant_worker, density_lb_per_gal=10.67, temperature_f=90.0)
    assert "above" in warm.findings[0]


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"density_lb_per_gal": 9.5}, "Density 9.50 lb/gal is below"),
        ({"density_lb_per_gal": 12.0}, "above"),
        ({"appearance": "crystals"}, "crystals"),
        ({"lab_analysis": {"N": 22.0}, "lab_source": "Lab report 7"}, "laboratory is 22 %"),
    ],
)
def test_anything_outside_holds_the_batch(made, plant_worker, changed, word):
    reading = read_density(made, plant_worker, **changed)
    assert word in reading.findings[0]
    assert made.status == "held"
    assert word in made.events.last().why


def test_the_ph_is_held_to_its_window_when_there_is_one(made, plant_worker):
    assert read_density(made, plant_worker, ph=2.0).is_inside  # no window: recorded only
    freeze_otherwise(made, ph_window=PhWindow(6.0, 8.0, ""))
    reading = read_density(made, plant_worker, ph=8.4)
    assert reading.findings == ["pH 8.4 is above 8.0."]


def test_a_held_batch_is_released_only_by_a_formulator_with_a_reason(
    made, plant_worker, formulator
):
    read_density(made, plant_worker, density_lb_per_gal=9.5)
    with pytest.raises(NotAllowed):
        release_batch(batch=made, acting_user=plant_worker, why="looks fine")
    with pytest.raises(BadInput):
        release_batch(batch=made, acting_user=formulator)
    # A better second reading does not take the hold off either.
    read_density(made, plant_worker)
    with pytest.raises(NotAllowed):
        release_batch(batch=made, acting_user=plant_worker)
    release_batch(batch=made, acting_user=formulator, why="Hydrometer was read wrongly.")
    event = made.events.last()
    assert (event.to_status, event.why) == ("released", "Hydrometer was read wrongly.")


def test_a_guarantee_missed_by_more_than_the_allowance_stands_in_the_way(batch, plant_worker):
    charged_and_made(batch, plant_worker, off_lb={"WATER": 600})
    read_density(batch, plant_worker)
    assert "Total nitrogen" in release_hindrances(batch)[0]
    with pytest.raises(NotAllowed):
        release_batch(batch=batch, acting_user=plant_worker)


def test_a_guarantee_missed_within_the_allowance_is_the_formulators_to_release(
    batch, plant_worker, formulator
):
    charged_and_made(batch, plant_worker, off_lb={"WATER": 30})
    read_density(batch, plant_worker)
    assert "below, though within the allowance" in " ".join(release_hindrances(batch))
    with pytest.raises(NotAllowed):
        release_batch(batch=batch, acting_user=plant_worker, why="close enough")
    release_batch(batch=batch, acting_user=formulator, why="Told the customer: label follows.")


def test_a_batch_weighed_from_the_printed_ticket_needs_a_reading_too(batch, plant_worker):
    made_by_ticket(batch, plant_worker)
    with pytest.raises(NotAllowed, match="No density has been read"):
        release_batch(batch=batch, acting_user=plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)


@pytest.mark.parametrize(
    "changed",
    [
        {"density_lb_per_gal": 0.0},
        {"density_lb_per_gal": float("nan")},
        {"temperature_f": 250.0},
        {"ph": 20.0},
        {"lab_analysis": {"N": 20.0}},
        {"lab_analysis": {"unobtainium": 20.0}, "lab_source": "Lab"},
        {"appearance": "splendid"},
    ],
)
def test_a_reading_that_cannot_be_is_refused(made, plant_worker, changed):
    with pytest.raises(BadInput):
        read_density(made, plant_worker, **changed)
    assert not QualityReading.objects.exists()
    assert made.status == "made"


def test_readings_wait_for_the_mix_and_end_with_the_release(batch, plant_worker):
    with pytest.raises(IllegalMove):
        read_density(batch, plant_worker)
    charged_and_made(batch, plant_worker)
    read_density(batch, plant_worker)
    release_batch(batch=batch, acting_user=plant_worker)
    with pytest.raises(IllegalMove):
        read_density(batch, plant_worker)


def test_the_same_reading_sent_twice_is_one(made, plant_worker):
    key = new_key()
    for _ in range(2):
        record_reading(batch=made, reading=reading_of(made), key=key, acting_user=plant_worker)
    assert QualityReading.objects.count() == 1


def test_a_released_density_is_adopted_once_and_centres_the_next_plan(
    made, plant_worker, formulator, rep, company
):
    read = made.load_plan.density_window.high_lb_per_gal - 0.01
    reading = read_density(made, plant_worker, density_lb_per_gal=read)
    with pytest.raises(IllegalMove):
        adopt_density(reading=reading, key=new_key(), acting_user=formulator)
    release_batch(batch=made, acting_user=plant_worker)
    with pytest.raises(NotAllowed):
        adopt_density(reading=reading, key=new_key(), acting_user=plant_worker)
    for _ in range(2):
        adopt_density(reading=reading, key=new_key(), acting_user=formulator)
    assert MeasuredDensity.objects.count() == 1
    revision = made.parts.get().order_line.revision
    order = placed_order(rep, company, quantity=2, revision=revision)
    (later,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    window = later.load_plan.density_window
    centre = (window.low_lb_per_gal + window.high_lb_per_gal) / 2
    assert centre == pytest.approx(read, abs=0.006)
    assert "measured" in window.basis
    assert revision.density_lb_per_gal != pytest.approx(read, abs=0.001)  # never edited
