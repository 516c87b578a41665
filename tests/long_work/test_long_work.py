"""Long work: parts counted once whoever begins them, combined once, joined, called off, tidied."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from blendshop.errors import IllegalMove, NotAllowed
from blendshop.jobs.actions import MOST_TRIES, claim_next, requeue_orphans
from blendshop.jobs.models import WorkerBeat
from blendshop.jobs.worker import run_next
from blendshop.long_work.actions.beginning import begin, call_off, try_again
from blendshop.long_work.actions.tidying import KEEP, tidy
from blendshop.long_work.actions.working import do_part, look_after
from blendshop.long_work.figures import oldest_open_seconds, work_by_state
from blendshop.long_work.models import LongWork, WorkPart
from tests.jobs.queue_cases import run_due
from tests.long_work.work_cases import BEGUN, COMBINED

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_each_part_is_a_task_and_the_last_one_combines(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=3)
    run_next("w")
    work.refresh_from_db()
    assert (work.state, work.parts_done) == (LongWork.State.WORKING, 1)
    assert run_due() == 2
    work.refresh_from_db()
    assert (work.state, work.parts_done) == (LongWork.State.DONE, 3)
    assert (work.says, work.result) == ("14 in all.", {"sum": 14})
    with work.download.open() as file:
        assert file.read() == b"square\r\n"
    assert COMBINED == [[1, 4, 9]]
    assert not WorkPart.objects.exists()


def test_work_is_there_only_if_its_transaction_is(known_kind, office):
    with transaction.atomic():
        begin(known_kind(), asked_by=office, arguments={}, parts=2)
        transaction.set_rollback(True)
    assert run_due() == 0
    assert not LongWork.objects.exists()


def test_a_part_whose_worker_died_is_begun_twice_and_counts_once(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    dead = claim_next("dead")
    assert dead is not None
    [pk] = dead.task_result.args
    assert WorkPart.objects.get(pk=pk).number == 1
    assert requeue_orphans() == 1
    run_next("another")
    do_part.call(pk)  # the dead one was only slow: it ends after all
    work.refresh_from_db()
    assert work.parts_done == 1
    assert run_due() == 1
    work.refresh_from_db()
    assert (work.state, work.parts_done) == (LongWork.State.DONE, 2)


def test_a_worker_that_dies_over_the_combining_leaves_it_to_the_next(
    known_kind, office, monkeypatch
):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    last = WorkPart.objects.get(number=2)
    run_next("w")
    # As the row stands when the worker dies between counting the last part and combining.
    WorkPart.objects.filter(pk=last.pk).update(finished_at=timezone.now(), answer=4)
    LongWork.objects.update(parts_done=2, combined_by=2)
    first = WorkPart.objects.get(number=1)
    do_part.call(first.pk)
    assert COMBINED == []  # not this one's to do
    assert run_due() == 1
    work.refresh_from_db()
    assert work.state == LongWork.State.DONE
    assert COMBINED == [[1, 4]]
    assert BEGUN == [1]


def test_an_answer_that_comes_after_another_was_kept_leaves_nothing(known_kind, office):
    def overtaken(assignment, answers):
        LongWork.objects.update(state=LongWork.State.CALLED_OFF, ended_at=timezone.now())
        return known.combine(assignment, answers)

    known = known_kind()
    work = begin(known_kind(combine=overtaken), asked_by=office, arguments={})
    run_due()
    work.refresh_from_db()
    assert (work.state, work.says) == (LongWork.State.CALLED_OFF, "")
    assert default_storage.listdir(f"long_work/{timezone.now():%Y}")[1] == []


def test_the_same_question_joins_while_it_is_current(known_kind, office, formulator):
    kind = known_kind(is_shared=True)
    first = begin(kind, asked_by=office, arguments={}, same_as="stocks of today")
    assert begin(kind, asked_by=formulator, arguments={}, same_as="stocks of today") == first
    run_due()
    assert begin(kind, asked_by=office, arguments={}, same_as="stocks of today") == first
    assert begin(kind, asked_by=office, arguments={}, same_as="another delivery") != first
    assert begin(kind, asked_by=office, arguments={}) != first


def test_what_is_not_shared_is_joined_by_its_asker_alone(known_kind, office, formulator):
    kind = known_kind()
    first = begin(kind, asked_by=office, arguments={}, same_as="a")
    assert begin(kind, asked_by=office, arguments={}, same_as="a") == first
    assert begin(kind, asked_by=formulator, arguments={}, same_as="a") != first


def test_what_failed_is_no_answer_to_join(known_kind, office):
    kind = known_kind()
    first = begin(kind, asked_by=office, arguments={"refused": 1}, same_as="a")
    run_due()
    assert begin(kind, asked_by=office, arguments={}, same_as="a") != first


def test_a_refused_part_fails_the_work_in_its_words_and_ends_the_others(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={"refused": 1}, parts=3)
    run_due()
    work.refresh_from_db()
    assert (work.state, work.says) == (LongWork.State.FAILED, "Line 3: the pounds are missing.")
    assert BEGUN == [1]
    assert not DBTaskResult.objects.filter(status=TaskResultStatus.FAILED).exists()


def test_a_part_that_stumbles_says_no_inner_words_and_is_seen_by_monitoring(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={"stumbles": 1})
    run_due()
    work.refresh_from_db()
    assert work.state == LongWork.State.FAILED
    assert "stone" not in work.says
    assert "Try again" in work.says
    assert DBTaskResult.objects.filter(status=TaskResultStatus.FAILED).count() == 1


def test_failed_work_is_begun_anew_with_all_its_parts(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={"refused": 2}, parts=2)
    stale = WorkPart.objects.get(number=2).pk
    run_due()
    LongWork.objects.update(arguments={})
    work.refresh_from_db()
    assert try_again(work, acting_user=office) == work
    assert do_part.call(stale) == ""
    assert work.parts_done == 0
    run_due()
    work.refresh_from_db()
    assert work.says == "5 in all."
    with pytest.raises(IllegalMove):
        try_again(work, acting_user=office)


def test_who_tries_again_joins_what_was_asked_meanwhile(known_kind, office):
    kind = known_kind()
    work = begin(kind, asked_by=office, arguments={"refused": 1}, same_as="a")
    run_due()
    newer = begin(kind, asked_by=office, arguments={}, same_as="a")
    work.refresh_from_db()
    assert try_again(work, acting_user=office) == newer


def test_called_off_work_is_left_where_it_is(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    run_next("w")
    call_off(work, acting_user=office)
    run_due()
    work.refresh_from_db()
    assert (work.state, BEGUN, COMBINED) == (LongWork.State.CALLED_OFF, [1], [])
    with pytest.raises(IllegalMove):
        call_off(work, acting_user=office)


def test_work_that_kills_its_workers_fails_with_a_word(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    for name in range(MOST_TRIES):
        assert claim_next(f"dead {name}") is not None
        assert requeue_orphans() == 1
    run_due()
    assert look_after.call() == 1
    work.refresh_from_db()
    assert work.state == LongWork.State.FAILED
    assert "stopped again and again" in work.says
    assert look_after.call() == 0


def test_what_a_part_writes_in_one_transaction_is_written_once_and_not_after_a_call_off(
    known_kind, office
):
    def write(assignment, number):
        WorkerBeat.objects.create(name=f"written by {number}")
        if assignment.arguments.get("called_off"):
            LongWork.objects.update(state=LongWork.State.CALLED_OFF, ended_at=timezone.now())
        return number

    kind = known_kind(in_one_transaction=True, part=write)
    work = begin(kind, asked_by=office, arguments={}, parts=2)
    [again] = WorkPart.objects.filter(number=1)
    run_next("w")
    do_part.call(again.pk)
    run_due()
    work.refresh_from_db()
    assert work.state == LongWork.State.DONE
    assert WorkerBeat.objects.count() == 2
    WorkerBeat.objects.all().delete()
    begin(kind, asked_by=office, arguments={"called_off": True})
    run_due()
    assert not WorkerBeat.objects.exists()


def test_a_role_is_needed_to_begin(known_kind, plant_worker):
    with pytest.raises(NotAllowed):
        begin(known_kind(), asked_by=plant_worker, arguments={})


def test_what_was_brought_is_there_for_each_part(known_kind, office):
    kind = known_kind(part=lambda assignment, _number: len(assignment.brought()))
    work = begin(kind, asked_by=office, arguments={}, parts=2, upload=b"three")
    run_due()
    work.refresh_from_db()
    assert work.result == {"sum": 10}


def test_old_work_goes_with_its_files(known_kind, office):
    work = begin(known_kind(), asked_by=office, arguments={}, upload=b"a table")
    run_due()
    work.refresh_from_db()
    names = [work.upload.name, work.download.name]
    assert tidy(timezone.now()) == 0
    assert all(default_storage.exists(name) for name in names)
    assert tidy(timezone.now() + KEEP + timedelta(minutes=1)) == 1
    assert not any(default_storage.exists(name) for name in names)


def test_monitoring_reads_how_much_is_open_and_for_how_long(known_kind, office):
    assert oldest_open_seconds() == {"": 0.0}
    begin(known_kind(), asked_by=office, arguments={"refused": 1})
    run_due()
    begin(known_kind(), asked_by=office, arguments={})
    LongWork.objects.open().update(asked_at=timezone.now() - timedelta(minutes=2))
    assert work_by_state()["waiting"] == 1
    assert work_by_state()["failed"] == 1
    assert 119 < oldest_open_seconds()[""] < 130
