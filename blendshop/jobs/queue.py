"""The door to the task queue: work that no page waits for.

    @task
    def send_letter(letter_id: int) -> None: ...

    send_letter.enqueue(letter.pk)
    send_letter.using(run_after=at).enqueue(letter.pk)

A task is a function of a module; its arguments are JSON (a record goes as its key). ``enqueue``
inserts a row in the caller's transaction: no worker sees it before the commit, none ever if that
fails. A worker may die in the middle, and then another begins anew, so that a task is written to be
run twice: it reads where things stand and changes them by guarded updates. An exception ends a
task as failed; what is worth another try puts itself on the queue again.
"""

from django_tasks import task
from django_tasks.base import Task

__all__ = ["Task", "task"]
