"""Waiting for what the browser itself cannot wait for."""

from collections.abc import Callable
from time import monotonic, sleep


def wait_until(is_so: Callable[[], bool], what: Callable[[], object] = bool) -> None:
    """The browser's own waiting takes a promise for an answer, so this asks again itself.

    Nor may it ask twice on our pages: what it would put in there the policy of scripts refuses.
    """
    end = monotonic() + 60
    while not is_so():
        assert monotonic() < end, what()
        sleep(0.1)
