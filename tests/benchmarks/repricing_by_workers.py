"""Repricing shared by 1, 2 and 4 workers on PostgreSQL: seconds on the wall and of processors.

    DATABASE_URL=postgres://user@127.0.0.1/name python -m tests.benchmarks.repricing_by_workers

The database has to be an empty one of its own; it is migrated and filled. Lines read
``s NAME VALUE`` and ``ratio NAME VALUE``. The processor time is that of the workers; the server's
own is not seen.
"""

import os
import resource
import subprocess
import sys
import time

import django

ROUNDS = (1, 2, 4)
BLENDS, QUOTES = 100_000, 10_000


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from django.core.management import call_command

    from blendshop.long_work.models import LongWork
    from tests.benchmarks.large_books import fill_books, new_costs

    call_command("migrate", verbosity=0)
    fill_books(blends=BLENDS, quotes=QUOTES)
    call_command("reprice_all")
    alone = None
    for workers in ROUNDS:
        new_costs("1.01")
        call_command("reprice_all", "--workers", stdout=sys.stderr)
        wall, cpu = worked_off(workers)
        assert LongWork.objects.order_by("-pk")[0].state == LongWork.State.DONE
        alone = alone or wall
        for line in (
            f"s repricing_on_the_wall_{workers}_workers {wall:.1f}",
            f"s repricing_of_processors_{workers}_workers {cpu:.1f}",
            f"ratio repricing_by_one_to_{workers}_workers {alone / wall:.2f}",
        ):
            print(line)  # noqa: T201 - a benchmark says what it measured


def worked_off(workers):
    """Seconds on the wall and of processors until the queue is empty."""
    command = [sys.executable, "manage.py", "run_worker", "--until-idle", "--interval", "0.1"]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    running = [subprocess.Popen(command) for _ in range(workers)]
    for each in running:
        assert each.wait() == 0
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.monotonic() - start, cpu


if __name__ == "__main__":
    main()
