"""A scale is verified with known loads; what it may be off decides whether it passed."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.engine.plant.load import ScaleKind
from orders.models import PlantProfile, ScaleVerification
from orders.scales.actions import Verified, record_verification
from orders.scales.standing import ScaleState, cautions, require_usable, standings
from tests.factories import PlantProfileFactory
from tests.orders.production.charging_cases import new_key
from tests.orders.scales.scale_cases import verify

GOOD = Verified(
    loads=[(Decimal(1000), Decimal(1000))], weights="20 × 50 lb", checked_at=timezone.now()
)


def state(tank, kind=ScaleKind.MAIN, today=None):
    (found,) = [
        each for each in standings([tank], today or timezone.localdate()) if each.kind is kind
    ]
    return found


def test_a_reading_within_the_tolerance_of_its_load_passes_and_one_beyond_fails(tank, plant_worker):
    assert verify(tank, plant_worker, reading="1002").passed
    failed = verify(tank, plant_worker, reading="1003")
    assert not failed.passed
    (load,) = failed.test.loads
    assert (load.load_lb, load.reading_lb, load.tolerance_lb) == (1000, 1003, 2)
    assert "Handbook 44" in failed.test.source
    assert "verified" in failed.test.source


def test_a_scale_just_adjusted_is_held_to_half(tank, plant_worker):
    assert not verify(tank, plant_worker, reading="1002", is_acceptance=True).passed
    assert verify(tank, plant_worker, reading="1001", is_acceptance=True).passed


def test_one_load_of_several_that_is_off_fails_the_scale(tank, plant_worker):
    loads = [(Decimal(500), Decimal(500)), (Decimal(1000), Decimal(1004))]
    written = record_verification(
        tank=tank,
        kind=ScaleKind.MAIN,
        verified=replace(GOOD, loads=loads),
        key=new_key(),
        acting_user=plant_worker,
    )
    assert not written.passed
    assert [load.is_within for load in written.test.loads] == [True, False]
    assert written.test.tested_to_lb == 1000


def test_a_vehicle_scale_is_held_to_its_own_class(tank, plant_worker):
    tank.scale_class = "III L"
    tank.save()
    assert verify(tank, plant_worker, load="5000", reading="5010").passed
    tank.scale_class = "III"
    tank.save()
    assert not verify(tank, plant_worker, load="5000", reading="5010").passed


def test_the_small_scale_goes_by_its_own_divisions(tank, plant_worker):
    fine = ScaleKind.FINE
    assert verify(tank, plant_worker, kind=fine, load="50", reading="50.1").passed
    assert not verify(tank, plant_worker, kind=fine, load="50", reading="50.2").passed
    assert state(tank).state is ScaleState.NEVER


def test_the_same_form_sent_twice_is_one_verification(tank, plant_worker):
    key = new_key()
    again = [
        record_verification(
            tank=tank, kind=ScaleKind.MAIN, verified=GOOD, key=key, acting_user=plant_worker
        ).pk
        for _ in range(2)
    ]
    assert again[0] == again[1]
    assert ScaleVerification.objects.count() == 1


def test_what_was_written_down_is_never_edited(tank, plant_worker):
    written = verify(tank, plant_worker, reading="1003")
    written.passed = True
    with pytest.raises(WrittenOnce):
        written.save()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"loads": []}, "load_1"),
        ({"loads": [(Decimal(0), Decimal(0))]}, "load_1"),
        ({"loads": [(Decimal(20_000), Decimal(20_000))]}, "load_1"),
        ({"loads": [(Decimal(100), Decimal(-1))]}, "reading_1"),
        ({"weights": " "}, "weights"),
        ({"checked_at": timezone.now() + timedelta(days=1)}, "checked_at"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(tank, plant_worker, changed, field):
    with pytest.raises(BadInput) as refused:
        record_verification(
            tank=tank,
            kind=ScaleKind.MAIN,
            verified=replace(GOOD, **changed),
            key=new_key(),
            acting_user=plant_worker,
        )
    assert list(refused.value.fields) == [field]
    assert not ScaleVerification.objects.exists()


def test_the_office_verifies_no_scale_and_a_tank_without_a_small_one_has_none(
    tank, office, plant_worker
):
    with pytest.raises(NotAllowed):
        verify(tank, office)
    tank.fine_step_lb = tank.fine_max_lb = None
    tank.save()
    with pytest.raises(BadInput, match="no small scale"):
        verify(tank, plant_worker, kind=ScaleKind.FINE, load="50", reading="50")


def test_a_scale_is_overdue_after_the_plants_own_interval(tank, plant_worker):
    PlantProfileFactory(scale_check_days=10)
    verify(tank, plant_worker, days_ago=10)
    assert state(tank).state is ScaleState.VERIFIED
    PlantProfile.objects.update(scale_check_days=9)
    overdue = state(tank)
    assert overdue.state is ScaleState.OVERDUE
    due = overdue.due_on
    assert due is not None
    assert f"Was to be verified again by {due:%b} {due.day}, {due.year}. Passed" in overdue.words
    assert "up to 1,000 lb" in overdue.words


def test_the_newest_by_its_own_time_holds_whenever_it_was_written_down(tank, plant_worker):
    verify(tank, plant_worker, reading="1003", days_ago=1)
    verify(tank, plant_worker, days_ago=2)
    assert state(tank).stops
    verify(tank, plant_worker)
    assert not state(tank).stops


def test_a_plant_that_has_written_nothing_down_is_neither_stopped_nor_cautioned(tank):
    require_usable(tank, ScaleKind.MAIN, None)
    assert cautions(tank, list(ScaleKind), timezone.localdate()) == []


def test_a_missing_verification_cautions_and_never_stops_once_others_are_written_down(
    tank, plant_worker
):
    verify(tank, plant_worker)
    (never,) = cautions(tank, list(ScaleKind), timezone.localdate())
    assert never.kind is ScaleKind.FINE
    assert not never.stops
    require_usable(tank, ScaleKind.FINE, None)


def test_an_overdue_scale_cautions_and_does_not_stop(tank, plant_worker):
    verify(tank, plant_worker, days_ago=60)
    (overdue,) = cautions(tank, [ScaleKind.MAIN], timezone.localdate())
    assert overdue.state is ScaleState.OVERDUE
    require_usable(tank, ScaleKind.MAIN, None)


def test_a_failed_scale_stops_what_is_weighed_since_and_not_what_was_weighed_before(
    tank, plant_worker
):
    failed = verify(tank, plant_worker, reading="1003", days_ago=1)
    with pytest.raises(IllegalMove, match="main scale of Tank 1 failed its verification"):
        require_usable(tank, ScaleKind.MAIN, None)
    with pytest.raises(IllegalMove):
        require_usable(tank, ScaleKind.MAIN, failed.checked_at)
    require_usable(tank, ScaleKind.MAIN, failed.checked_at - timedelta(minutes=1))
    require_usable(tank, ScaleKind.FINE, None)
    verify(tank, plant_worker)
    require_usable(tank, ScaleKind.MAIN, None)
