"""What a benchmark measured: one line a figure, for people and for scripts.

``ratio NAME VALUE`` is a time over a baseline's in the same run, ``ms NAME VALUE`` a time where
there is no baseline. Processor time of this process, because a busy machine lengthens the wall's.
"""

import statistics
import time


def ratio(name, value):
    """Print a figure without unit."""
    print(f"\nratio {name} {value:.3f}")  # noqa: T201 - the point of a benchmark


def ms(name, value):
    """Print milliseconds."""
    print(f"\nms {name} {value:.3f}")  # noqa: T201 - the point of a benchmark


def cpu_ms(action, rounds=200):
    """Median processor time of an action, milliseconds, after one round to warm up."""
    action()
    return 1000 * statistics.median(cpu_s(action) for _ in range(rounds))


def cpu_ms_beside(action, baseline, rounds=200):
    """The same of an action and its baseline, taken in turns so that both meet the same machine."""
    action(), baseline()
    pairs = [(cpu_s(action), cpu_s(baseline)) for _ in range(rounds)]
    return tuple(1000 * statistics.median(times) for times in zip(*pairs, strict=True))


def cpu_s(action):
    """Processor time of one round, seconds."""
    start = time.process_time()
    action()
    return time.process_time() - start
