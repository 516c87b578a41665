"""Workers on one queue at once: each task runs once, and a killed worker's task runs again."""

import os
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest
from django.core import mail as django_mail
from django.core.management import call_command
from django.db import connection
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from blendshop.jobs.actions import enqueue_recurring, requeue_orphans
from blendshop.jobs.models import WorkerBeat
from blendshop.jobs.worker import QueueWorker
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.actions.working import do_part
from blendshop.long_work.models import LongWork, WorkPart
from blendshop.outbox.actions import deliver_mail, post_mail
from blendshop.outbox.models import Mail
from tests.concurrency.test_ledger_races import in_threads
from tests.jobs.queue_cases import DONE, note
from tests.long_work.work_cases import BEGUN, COMBINED

pytestmark = pytest.mark.django_db(transaction=True)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def nothing_recurs(settings) -> None:
    settings.DAILY_TASKS, settings.REPEATED_TASKS = [], {}
    DONE.clear()


def test_four_workers_run_each_task_once() -> None:
    for number in range(40):
        note.enqueue(f"task {number}")
    workers = [QueueWorker(name=f"worker {number}") for number in range(4)]
    in_threads(*(lambda each=each: each.run(until_idle=True) for each in workers))
    assert Counter(DONE) == Counter(f"task {number}" for number in range(40))
    rows = DBTaskResult.objects.all()
    assert {row.status for row in rows} == {TaskResultStatus.SUCCESSFUL}
    assert {len(row.worker_ids) for row in rows} == {1}
    assert not WorkerBeat.objects.exists()


def test_four_workers_share_a_piece_of_work_and_one_combines_it(
    known_kind, office, settings, tmp_path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    work = begin(known_kind(), asked_by=office, arguments={}, parts=24)
    workers = [QueueWorker(name=f"worker {number}") for number in range(4)]
    in_threads(*(lambda each=each: each.run(until_idle=True) for each in workers))
    work.refresh_from_db()
    assert (work.state, work.parts_done) == (LongWork.State.DONE, 24)
    assert sorted(BEGUN) == list(range(1, 25))
    [answers] = COMBINED
    assert answers == [number * number for number in range(1, 25)]


def test_a_part_that_two_workers_take_counts_once(known_kind, office, settings, tmp_path) -> None:
    """As when a worker was only slow and not dead."""
    settings.MEDIA_ROOT = tmp_path
    work = begin(known_kind(), asked_by=office, arguments={}, parts=2)
    first, second = WorkPart.objects.order_by("number").values_list("pk", flat=True)
    in_threads(*[lambda: do_part.call(first)] * 3)
    work.refresh_from_db()
    assert (work.state, work.parts_done) == (LongWork.State.WORKING, 1)
    do_part.call(second)
    assert COMBINED == [[1, 4]]


def test_an_orphan_found_by_four_workers_is_given_back_once() -> None:
    row = DBTaskResult.objects.get(pk=note.enqueue("orphan").id)
    row.claim("dead")
    given_back = in_threads(*[requeue_orphans] * 4)
    assert sum(given_back) == 1


def test_of_four_workers_one_puts_the_daily_task_on_the_queue(settings) -> None:
    settings.DAILY_TASKS = ["blendshop.jobs.tasks.tidy_queue"]
    now = timezone.now()
    begun = in_threads(*[lambda: enqueue_recurring(now)] * 4)
    assert sorted(map(len, begun)) == [0, 0, 0, 1]


def test_a_worker_ends_in_good_order_when_asked() -> None:
    """A real process, on the test's database; SIGTERM between two tasks."""
    name = connection.settings_dict["NAME"]
    url = f"sqlite:///{name}"
    if connection.vendor == "postgresql":
        known = connection.settings_dict
        url = (
            f"postgres://{known['USER']}:{known['PASSWORD']}@{known['HOST']}:{known['PORT']}/{name}"
        )
    env = {**os.environ, "DATABASE_URL": url, "BLENDSHOP_DEBUG": "true", "PYTHONPATH": str(ROOT)}
    note.enqueue("from afar")
    process = subprocess.Popen(
        [sys.executable, "manage.py", "run_worker", "--interval", "0.05"],
        cwd=ROOT,
        env=env,
        stderr=subprocess.PIPE,
    )
    try:
        deadline = time.monotonic() + 60
        while not DBTaskResult.objects.filter(args_kwargs__args=["from afar"]).successful():
            assert process.poll() is None
            assert time.monotonic() < deadline
            time.sleep(0.1)
        assert WorkerBeat.objects.alive().count() == 1
        process.send_signal(signal.SIGTERM)
        _out, told = process.communicate(timeout=30)
        assert process.returncode == 0, told
    finally:
        process.kill()
    assert not WorkerBeat.objects.exists()


def test_the_command_ends_when_nothing_is_due() -> None:
    note.enqueue("one")
    call_command("run_worker", until_idle=True)
    assert DONE == ["one"]


def test_four_workers_deliver_each_mail_once() -> None:
    posted = post_mail(
        to=[f"{number}@far.example" for number in range(20)],
        subject="S",
        text="T",
        about=("quote", "Q-1"),
    )
    keys = [mail.pk for mail in posted]
    in_threads(*[lambda: [deliver_mail.call(pk) for pk in keys]] * 4)
    assert Counter(mail.to[0] for mail in django_mail.outbox) == Counter(m.to for m in posted)
    assert set(Mail.objects.values_list("state", "tries")) == {("sent", 1)}
