"""What a worker does with a part, and with the last one: combine, once."""

import logging
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.errors import DomainError
from blendshop.jobs.queue import task
from blendshop.jobs.standing import given_up
from blendshop.long_work.kinds import Assignment, Kind, Outcome, kind_of
from blendshop.long_work.models import LongWork, WorkPart

logger = logging.getLogger(__name__)


@task
def do_part(pk: int) -> str:
    """One part of a piece of work; the state of the work afterwards, empty where it is over."""
    part = WorkPart.objects.select_related("work__asked_by").filter(pk=pk).first()
    if part is None or not part.work.is_open:
        return ""
    work = part.work
    waiting = LongWork.objects.filter(pk=work.pk, state=LongWork.State.WAITING)
    waiting.update(state=LongWork.State.WORKING, begun_at=timezone.now())
    try:
        kind = kind_of(work.kind)
        assignment = Assignment(work.arguments, work.parts, work.asked_by, work.upload or None)
        if part.finished_at is None:
            _do(kind, assignment, part)
        if _is_last(part):
            _combine(work, kind, assignment)
    except DomainError as refused:
        fail(work, refused.message)
    except Exception:
        fail(
            work,
            _(
                "Something went wrong on our side; it is noted for those who run the site. "
                "Try again, and tell them if it goes wrong once more."
            ),
        )
        raise
    work.refresh_from_db(fields=["state"])
    return work.state


@task
def look_after() -> int:
    """Repeated: fail open work whose tasks were given up, as their workers died; how many."""
    failed = 0
    for work in LongWork.objects.open():
        waits_for = Q(finished_at=None) | Q(number=work.combined_by)
        tasks = set(work.work_parts.filter(waits_for).values_list("task_id", flat=True))
        if given_up(tasks):
            failed += fail(
                work,
                _("Its worker stopped again and again in the middle. Try again later."),
            )
    return failed


def fail(work: LongWork, why: str) -> bool:
    """End open work as failed, with the reason for people; whether it was open."""
    return bool(
        LongWork.objects.open()
        .filter(pk=work.pk)
        .update(state=LongWork.State.FAILED, ended_at=timezone.now(), says=why[:400])
    )


def _do(kind: Kind, assignment: Assignment, part: WorkPart) -> None:
    if not kind.in_one_transaction:
        _finish(part, kind.part(assignment, part.number))
        return
    with transaction.atomic():
        mine = WorkPart.objects.select_for_update().filter(pk=part.pk, finished_at=None)
        if mine.exists() and not _finish(part, kind.part(assignment, part.number)):
            transaction.set_rollback(True)


def _finish(part: WorkPart, answer: Any) -> bool:
    """Count the part unless it is counted; whoever finishes the last one is to combine."""
    with transaction.atomic():
        unfinished = WorkPart.objects.filter(pk=part.pk, finished_at=None)
        if not unfinished.update(finished_at=timezone.now(), answer=answer):
            return False
        ours = LongWork.objects.filter(pk=part.work_id, state=LongWork.State.WORKING)
        # The row stays locked from here to the commit: of two parts one is the last.
        counted = ours.update(parts_done=F("parts_done") + 1)
        ours.filter(parts_done=F("parts"), combined_by=None).update(combined_by=part.number)
        return bool(counted)


def _is_last(part: WorkPart) -> bool:
    """Whether this part is to combine; still so when its worker died over it."""
    return LongWork.objects.filter(
        pk=part.work_id, combined_by=part.number, state=LongWork.State.WORKING
    ).exists()


def _combine(work: LongWork, kind: Kind, assignment: Assignment) -> None:
    answers = list(work.work_parts.order_by("number").values_list("answer", flat=True))
    outcome = kind.combine(assignment, answers)
    changed = _as_columns(work, outcome)
    with transaction.atomic():
        working = LongWork.objects.filter(pk=work.pk, state=LongWork.State.WORKING)
        is_kept = working.update(
            state=LongWork.State.DONE, ended_at=timezone.now(), says=outcome.says[:400], **changed
        )
        if is_kept:
            work.work_parts.all().delete()
    if not is_kept and work.download:
        work.download.delete(save=False)


def _as_columns(work: LongWork, outcome: Outcome) -> dict[str, Any]:
    columns: dict[str, Any] = {"result": outcome.result}
    if made := outcome.download:
        work.download.save(made.name, ContentFile(made.content), save=False)
        columns |= {"download": work.download.name, "download_name": made.name}
    return columns
