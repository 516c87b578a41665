"""Tasks of the queue: when they are seen, what becomes of those whose worker died, what recurs."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from blendshop.jobs import actions, embedded, worker
from blendshop.jobs.management.commands import runserver
from blendshop.jobs.models import STALE_AFTER, RecurringRun, WorkerBeat
from blendshop.jobs.schedule import Recurring
from blendshop.jobs.tasks import count_rows_for_plans
from blendshop.jobs.worker import QueueWorker, run_next
from tests.jobs.queue_cases import DONE, note, run_due, stumble

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_done() -> None:
    DONE.clear()


def running(*workers: str) -> DBTaskResult:
    """A task that these workers have begun one after the other, none of them ended it."""
    row = DBTaskResult.objects.get(pk=note.enqueue("orphan").id)
    row.status = TaskResultStatus.RUNNING
    row.started_at, row.worker_ids = timezone.now(), list(workers)
    row.save()
    return row


def test_a_task_is_there_only_if_its_transaction_is() -> None:
    with transaction.atomic():
        note.enqueue("never")
        transaction.set_rollback(True)
    with transaction.atomic():
        note.enqueue("once")
    assert run_due() == 1
    assert DONE == ["once"]


def test_a_task_for_later_waits_until_then() -> None:
    result = note.using(run_after=timezone.now() + timedelta(hours=1)).enqueue("later")
    assert not run_next("w")
    past = timezone.now() - timedelta(seconds=1)
    DBTaskResult.objects.filter(pk=result.id).update(run_after=past)
    assert run_due() == 1
    assert DONE == ["later"]


def test_an_exception_fails_its_task_and_the_next_one_runs() -> None:
    failing = stumble.enqueue()
    note.enqueue("after it")
    assert run_due() == 2
    failing.refresh()
    assert failing.status == TaskResultStatus.FAILED
    assert "a stone on the way" in failing.errors[0].traceback
    assert DONE == ["after it"]


def test_a_task_whose_worker_died_is_begun_again() -> None:
    row = running("dead")
    assert actions.requeue_orphans() == 1
    assert run_due("another") == 1
    assert DONE == ["orphan"]
    row.refresh_from_db()
    assert row.worker_ids == ["dead", "another"]
    assert row.status == TaskResultStatus.SUCCESSFUL


def test_a_task_of_a_living_worker_is_left_alone() -> None:
    row = running("busy")
    actions.beat("busy")
    assert actions.requeue_orphans() == 0
    old = timezone.now() - STALE_AFTER - timedelta(seconds=5)
    WorkerBeat.objects.update(beat_at=old)
    assert actions.requeue_orphans() == 1
    row.refresh_from_db()
    assert row.status == TaskResultStatus.READY


def test_a_task_that_kills_its_workers_is_given_up() -> None:
    row = running("first", "second", "third")
    assert actions.requeue_orphans() == 1
    assert run_due() == 0
    row.refresh_from_db()
    assert row.status == TaskResultStatus.FAILED
    assert row.task_result.errors[0].exception_class is actions.WorkerDied
    assert "3 times" in row.traceback


def test_a_beat_is_one_row_a_worker_and_ends_with_it() -> None:
    actions.beat("one")
    actions.beat("one")
    assert WorkerBeat.objects.alive().count() == 1
    actions.sign_off("one")
    assert not WorkerBeat.objects.exists()


def test_what_is_daily_is_put_on_the_queue_once_a_day_of_the_plant(settings) -> None:
    settings.DAILY_TASKS, settings.REPEATED_TASKS = ["blendshop.jobs.tasks.tidy_queue"], {}
    settings.TIME_ZONE = "America/New_York"
    evening = datetime(2026, 3, 3, 4, 30, tzinfo=UTC)  # half past eleven on the second
    assert actions.enqueue_recurring(evening) == settings.DAILY_TASKS
    assert actions.enqueue_recurring(evening + timedelta(minutes=15)) == []
    assert actions.enqueue_recurring(evening + timedelta(minutes=31)) == settings.DAILY_TASKS
    assert DBTaskResult.objects.count() == 2


def test_what_is_repeated_comes_after_its_seconds(settings) -> None:
    settings.DAILY_TASKS, settings.REPEATED_TASKS = [], {"blendshop.jobs.tasks.tidy_queue": 300}
    now = timezone.now()
    assert len(actions.enqueue_recurring(now)) == 1
    assert actions.enqueue_recurring(now + timedelta(seconds=299)) == []
    assert len(actions.enqueue_recurring(now + timedelta(seconds=301))) == 1


def test_a_worker_that_was_first_has_the_daily_task(settings, monkeypatch) -> None:
    """Both found it due; the other one's update stands between reading and writing."""
    settings.DAILY_TASKS, settings.REPEATED_TASKS = ["blendshop.jobs.tasks.tidy_queue"], {}
    now = timezone.now()
    RecurringRun.objects.create(path=settings.DAILY_TASKS[0], last_at=now)
    monkeypatch.setattr(Recurring, "is_due", lambda *_args: True)
    assert actions.enqueue_recurring(now) == []


def test_every_task_of_the_settings_can_be_run(settings) -> None:
    begun = actions.enqueue_recurring(timezone.now())
    assert set(begun) == {*settings.DAILY_TASKS, *settings.REPEATED_TASKS}
    assert run_due() >= len(begun)  # one of them may begin another
    assert not DBTaskResult.objects.exclude(status=TaskResultStatus.SUCCESSFUL).exists()


def test_old_tasks_are_forgotten_failed_ones_later() -> None:
    note.enqueue("old")
    stumble.enqueue()
    note.enqueue("waits")
    run_next("w")
    run_next("w")
    week_later = timezone.now() + actions.KEEP_FINISHED + timedelta(minutes=1)
    assert actions.tidy(week_later) == 1
    assert actions.tidy(timezone.now() + actions.KEEP_FAILED + timedelta(minutes=1)) == 1
    assert DBTaskResult.objects.get().status == TaskResultStatus.READY


@pytest.mark.parametrize("wanted", [True, False])
def test_only_a_server_that_serves_starts_a_worker_and_only_if_wanted(
    wanted, settings, monkeypatch
) -> None:
    started = []
    settings.EMBEDDED_WORKER = wanted
    monkeypatch.setattr(runserver, "start_embedded_worker", lambda: started.append("worker"))
    monkeypatch.setattr(
        runserver.whitenoise.Command, "inner_run", lambda *_a, **_k: started.append("site")
    )
    call_command("runserver", "127.0.0.1:0", use_reloader=False)
    assert started == (["worker", "site"] if wanted else ["site"])


def test_the_embedded_worker_ends_with_its_process(monkeypatch) -> None:
    ran = threading.Event()
    monkeypatch.setattr(QueueWorker, "run", lambda _self: ran.set())
    thread = embedded.start_embedded_worker()
    assert thread.daemon
    assert ran.wait(10)


def test_a_database_that_does_not_answer_ends_no_worker(monkeypatch) -> None:
    silent = iter([worker.DatabaseError("gone"), worker.DatabaseError("gone")])

    def keep_house() -> None:
        for error in silent:
            raise error

    monkeypatch.setattr(worker, "keep_house", keep_house)
    monkeypatch.setattr(worker, "HOUSEKEEPING_S", 0.0)
    monkeypatch.setattr(worker, "DATABASE_PAUSE_S", 0.0)
    monkeypatch.setattr(worker.connection, "close", lambda: None)  # the test's own
    monkeypatch.setattr(worker, "close_old_connections", lambda: None)
    note.enqueue("in the end")
    QueueWorker(interval_s=0).run(until_idle=True)
    assert DONE == ["in the end"]


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL counts by itself")
def test_sqlite_learns_daily_how_many_rows_there_are() -> None:
    RecurringRun.objects.bulk_create(
        RecurringRun(path=f"task.{number}", last_at=timezone.now()) for number in range(50)
    )
    count_rows_for_plans.call()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT stat FROM sqlite_stat1 WHERE tbl = %s", [RecurringRun._meta.db_table]
        )
        assert [row[0].split()[0] for row in cursor.fetchall()] == ["50"]
