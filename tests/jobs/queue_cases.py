"""Tasks that tests put on the queue, and running what is due in the test's own thread."""

from typing import Final

from blendshop.jobs.queue import task
from blendshop.jobs.worker import run_next

#: What the tasks below were called with, in this process.
DONE: Final[list[str]] = []


@task
def note(word: str) -> str:
    DONE.append(word)
    return word


@task
def stumble() -> None:
    raise ValueError("a stone on the way")


def run_due(name: str = "the test's worker") -> int:
    """Run every task that is due; how many."""
    count = 0
    while run_next(name):
        count += 1
    return count
