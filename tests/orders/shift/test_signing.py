"""What a shift signs: cleanings, samples, notes; and what a tablet says of unsent weights."""

from datetime import timedelta

import pytest
from django.utils import timezone

from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove, NotAllowed
from blendshop.roles import Role
from formulas.models import Trait
from orders.models import (
    HandoverNote,
    HandoverRead,
    RetainedSample,
    SampleDiscarded,
    TankCleaning,
    UnsentWeights,
)
from orders.production.actions.batches import release_batch
from orders.recall.actions import hold_all, open_recall
from orders.shift.actions.cleaning import sign_cleaning
from orders.shift.actions.handover import mark_read, write_note
from orders.shift.actions.samples import Taken, discard_sample, take_sample
from orders.shift.actions.unsent import report_unsent, settle_unsent
from orders.shift.handover import newest_notes
from orders.shift.samples import samples_today
from orders.shift.tanks_today import tanks_today
from orders.shift.undone import left_undone
from orders.shift.unsent import unsent_reports
from orders.tanks.heel import newest_entry
from tests.factories import (
    BaseStockFactory,
    CompatibilityRuleFactory,
    TankFactory,
    UserFactory,
)
from tests.orders.planning.plant_cases import save_half_slow
from tests.orders.production.charging_cases import charged_and_made, drained, new_key, read_density
from tests.orders.tanks.tank_cases import Found, another, make_and_fill, sign


def clean(tank, by, **more):
    entry = newest_entry(tank)
    asked = {"how": "rinsed", "seen_entry": entry.pk if entry else None, "key": new_key()}
    return sign_cleaning(tank=tank, acting_user=by, **{**asked, **more})


LIME_WATER = {"product": "lime water", "volume_gal": 30, "density_lb_per_gal": 8.5}


# --- Cleaning ------------------------------------------------------------------------------------
def test_a_cleaning_says_after_what_and_what_the_sequence_asked_for(
    revision, rep, company, plant_worker
):
    batch = another(rep, company, plant_worker, revision)
    make_and_fill(batch, plant_worker, heel_lb=20)
    following = another(rep, company, plant_worker, revision)
    signed = clean(batch.tank, plant_worker, note="twice")
    assert signed.after == newest_entry(batch.tank).held.product
    assert "Half slow summer" in signed.after
    assert signed.before == following
    assert signed.asked
    assert (signed.who, signed.get_how_display()) == ("Pat Plant", "rinsed with water")


def test_a_cleaning_changes_nothing_of_what_the_ledger_says(db, plant_worker):
    tank = TankFactory()
    sign(tank, plant_worker, Found.OTHER, **LIME_WATER)
    before = newest_entry(tank)
    assert clean(tank, plant_worker).after == "lime water"
    assert newest_entry(tank) == before


def test_something_that_happened_to_the_tank_meanwhile_is_looked_at_first(db, plant_worker):
    tank = TankFactory()
    seen = newest_entry(tank).pk
    sign(tank, plant_worker)
    with pytest.raises(ChangedMeanwhile, match="Something has happened to Tank 1"):
        clean(tank, plant_worker, seen_entry=seen)
    assert not TankCleaning.objects.exists()


def test_a_tank_with_a_batch_in_it_has_only_its_lines_cleaned(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    with pytest.raises(IllegalMove, match=f"holds {batch.number}"):
        clean(batch.tank, plant_worker)
    assert clean(batch.tank, plant_worker, how="lines").after


def test_a_cleaning_sent_twice_is_one_and_an_unknown_way_is_refused(db, plant_worker, office):
    tank, key = TankFactory(), new_key()
    assert clean(tank, plant_worker, key=key) == clean(tank, plant_worker, key=key)
    assert TankCleaning.objects.count() == 1
    with pytest.raises(BadInput):
        clean(tank, plant_worker, how="licked")
    with pytest.raises(NotAllowed):
        clean(tank, office)


def test_a_flush_is_left_undone_from_the_draining_until_it_is_signed(
    mixed, rep, company, plant_worker
):
    BaseStockFactory(code="CAL", analysis={"Ca": 12.0}, traits=["calcium"])
    CompatibilityRuleFactory(trait_b=Trait.objects.get(code="nitrate"))
    wish = {"targets": [{"nutrient": "Ca", "min": 5}], "fill": {"volume_gal": 265}}
    calcium = save_half_slow(rep, company, name="Calcium", wish=wish)
    tank, following = mixed.tank, another(rep, company, plant_worker, calcium)

    def to_clean():
        found = left_undone([], tanks_today([]), [])
        return [each.words for each in found if each.kind.value == "clean"]

    (today,) = tanks_today([])
    assert today.next.needs_flush
    assert to_clean() == []
    drained(tank, plant_worker)
    assert to_clean() == [
        f"A flush is asked for before {following.number}; nobody has signed the cleaning."
    ]
    clean(tank, plant_worker)
    assert to_clean() == []
    sign(tank, plant_worker, Found.HEEL)
    assert len(to_clean()) == 1


# --- Samples -------------------------------------------------------------------------------------
def taken(**changed):
    now = timezone.now()
    figures = {
        "taken_at": now,
        "kept_in": "shelf 3",
        "keep_until": timezone.localdate(now) + timedelta(days=365),
    }
    return Taken(**{**figures, **changed})


@pytest.fixture
def mixed(batch, plant_worker):
    charged_and_made(batch, plant_worker)
    return batch


def sample_of(batch, by, *, days=365, ago=0):
    then = timezone.now() - timedelta(days=ago)
    until = timezone.localdate(then) + timedelta(days=days)
    return take_sample(
        batch=batch,
        taken=taken(taken_at=then, keep_until=until),
        key=new_key(),
        acting_user=by,
    )


def throw_out(sample, by, why="Kept its time."):
    return discard_sample(sample=sample, why=why, key=new_key(), acting_user=by)


def test_a_released_batch_without_a_sample_is_missing_one_until_it_is_written_down(
    mixed, plant_worker
):
    today = timezone.localdate()
    assert not samples_today(today).missing
    read_density(mixed, plant_worker)
    release_batch(batch=mixed, acting_user=plant_worker)
    assert samples_today(today).missing == (mixed,)
    assert not samples_today(today + timedelta(days=400)).missing
    sample_of(mixed, plant_worker)
    found = samples_today(today)
    assert (found.missing, found.overdue, found.kept) == ((), (), 1)


def test_a_sample_is_to_be_thrown_out_the_day_after_it_was_kept(mixed, plant_worker):
    sample = sample_of(mixed, plant_worker, days=2, ago=2)
    today = timezone.localdate()
    assert samples_today(today).overdue == ()
    assert samples_today(today + timedelta(days=1)).overdue == (sample,)


def test_before_its_day_only_a_formulator_throws_a_sample_out(mixed, plant_worker, formulator):
    sample = sample_of(mixed, plant_worker)
    with pytest.raises(NotAllowed, match="only a formulator throws it out earlier"):
        throw_out(sample, plant_worker)
    throw_out(sample, formulator, "Leaked.")
    assert samples_today(timezone.localdate()).kept == 0
    with pytest.raises(IllegalMove, match="already"):
        throw_out(sample, formulator)
    assert SampleDiscarded.objects.get().who == "Fran Form"


def test_a_sample_of_a_batch_in_a_recall_is_kept(mixed, plant_worker, formulator):
    sample = sample_of(mixed, plant_worker, days=1, ago=3)
    recall = open_recall(source=mixed.number, reason="Smells.", acting_user=formulator)
    hold_all(recall=recall, acting_user=formulator)
    with pytest.raises(IllegalMove, match="Keep the sample until that is settled"):
        throw_out(sample, plant_worker)
    assert not SampleDiscarded.objects.exists()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"kept_in": " "}, "kept_in"),
        ({"taken_at": timezone.now() + timedelta(days=1)}, "taken_at"),
        ({"keep_until": timezone.localdate() - timedelta(days=1)}, "keep_until"),
    ],
)
def test_a_sample_that_cannot_be_is_refused_beside_its_field(mixed, plant_worker, changed, field):
    with pytest.raises(BadInput) as refused:
        take_sample(batch=mixed, taken=taken(**changed), key=new_key(), acting_user=plant_worker)
    assert list(refused.value.fields) == [field]


def test_there_is_no_sample_of_what_is_not_mixed(batch, plant_worker):
    with pytest.raises(IllegalMove, match="nothing to take a sample of"):
        sample_of(batch, plant_worker)
    assert not RetainedSample.objects.exists()


# --- Handover ------------------------------------------------------------------------------------
def hand_over(by, text="Pump 2 leaks."):
    return write_note(shift="early", text=text, key=new_key(), acting_user=by)


def test_the_newest_note_is_on_top_and_read_once_a_person(plant_worker, formulator):
    hand_over(plant_worker, "first")
    note = hand_over(plant_worker, "second")
    assert [each.note.text for each in newest_notes(formulator, 5)] == ["second", "first"]
    assert newest_notes(formulator, 1)[0].is_to_read
    assert not newest_notes(plant_worker, 1)[0].is_to_read
    for _ in range(2):
        mark_read(note=note, acting_user=formulator)
    (newest,) = newest_notes(formulator, 1)
    assert [read.who for read in newest.reads] == ["Fran Form"]
    assert not newest.is_to_read
    assert HandoverRead.objects.count() == 1


def test_an_empty_note_a_double_one_and_a_reps_are_no_notes(plant_worker, rep):
    with pytest.raises(BadInput):
        hand_over(plant_worker, "  ")
    key = new_key()
    for _ in range(2):
        write_note(shift="late", text="once", key=key, acting_user=plant_worker)
    assert HandoverNote.objects.count() == 1
    with pytest.raises(NotAllowed):
        hand_over(rep)


# --- Unsent weights ------------------------------------------------------------------------------
TABLET = "a" * 32


def tell(by, waiting, tablet=TABLET):
    report_unsent(tablet=tablet, person=by.pk, waiting=waiting, acting_user=by)


def test_a_tablet_tells_how_many_weights_it_has_and_then_that_it_has_none(batch, plant_worker):
    tell(plant_worker, {batch.number: 3})
    (report,) = unsent_reports()
    assert (report.batch, report.count) == (batch, 3)
    (undone,) = left_undone([], [], unsent_reports())
    assert undone.words.startswith("Pat Plant's tablet: 3 weights unsent, last seen ")
    tell(plant_worker, {batch.number: 1})
    assert [each.count for each in unsent_reports()] == [1]
    tell(plant_worker, {})
    assert unsent_reports() == []


def test_two_tablets_of_one_person_and_two_people_at_one_tablet_are_told_apart(batch, plant_worker):
    other = UserFactory(email="jo@plant.example", name="Jo Plant", role=Role.PLANT)
    tell(plant_worker, {batch.number: 3})
    tell(plant_worker, {batch.number: 2}, tablet="b" * 32)
    tell(other, {})
    assert [each.count for each in unsent_reports()] == [3, 2]


def test_a_tablet_speaks_of_nobody_elses_weights_and_of_no_unknown_batch(
    batch, plant_worker, formulator
):
    with pytest.raises(NotAllowed):
        report_unsent(
            tablet=TABLET,
            person=plant_worker.pk,
            waiting={batch.number: 3},
            acting_user=formulator,
        )
    tell(plant_worker, {"B-1999-0001": 3})
    assert not UnsentWeights.objects.exists()


def test_what_a_broken_tablet_said_is_settled_by_a_person_and_the_batch_keeps_it(
    batch, plant_worker, formulator
):
    tell(plant_worker, {batch.number: 3})
    (report,) = unsent_reports()
    settle_unsent(report=report, acting_user=formulator)
    settle_unsent(report=report, acting_user=formulator)
    assert unsent_reports() == []
    told = batch.events.filter(why__contains="said to be settled")
    assert [each.who for each in told] == ["Fran Form"]
