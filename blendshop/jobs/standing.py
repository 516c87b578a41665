"""How tasks stand, for rooms that wait for some of theirs."""

from collections.abc import Collection

from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult


def given_up(task_ids: Collection[str]) -> set[str]:
    """Those of the tasks that failed, or that the queue knows nothing of any more."""
    statuses = DBTaskResult.objects.filter(pk__in=task_ids).values_list("pk", "status")
    standing = {str(pk) for pk, status in statuses if status != TaskResultStatus.FAILED}
    return set(task_ids) - standing
