"""What monitoring reads of the queue."""

from datetime import timedelta

import pytest
from django.utils import timezone

from blendshop.jobs.figures import oldest_wait_seconds, tasks_by_state, workers_alive
from blendshop.jobs.models import WorkerBeat
from blendshop.monitoring.metrics import scraped
from tests.jobs.queue_cases import note, run_due, stumble

pytestmark = pytest.mark.django_db


def test_tasks_are_counted_by_state():
    assert tasks_by_state() == {"waiting": 0, "running": 0, "failed": 0}
    stumble.enqueue()
    run_due()
    note.enqueue("a")
    note.enqueue("b")
    assert tasks_by_state() == {"waiting": 2, "running": 0, "failed": 1}


def test_the_oldest_task_that_is_due_is_measured():
    assert oldest_wait_seconds() == {"": 0.0}
    note.using(run_after=timezone.now() + timedelta(hours=1)).enqueue("later")
    assert oldest_wait_seconds() == {"": 0.0}
    note.enqueue("now")
    assert 0 < oldest_wait_seconds()[""] < 60


def test_workers_that_are_alive_are_counted_and_scraped():
    WorkerBeat.objects.create(name="alive")
    WorkerBeat.objects.create(name="dead", beat_at=timezone.now() - timedelta(minutes=5))
    assert workers_alive() == {"": 1}
    text = scraped().decode()
    assert "blendshop_workers_alive 1.0" in text
    assert 'blendshop_tasks{state="waiting"} 0.0' in text
    assert "blendshop_figure_failed{" not in text
