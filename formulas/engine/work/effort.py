"""How much work one question may take before it is refused: counted, never timed.

The solver's work is counted in *units*: one check of a search over whole numbers, or half a
linear program, for each row and column. The same question takes the same units on every machine,
so what is refused on one is refused on all. A caller that also has a clock hands in ``is_late``,
which is only asked and never read here; it refuses as well, and changes no answer.

    >>> with allowed(100):
    ...     spend(60)
    ...     spend(60)
    Traceback (most recent call last):
    ...
    formulas.engine.work.effort.TooLarge: The question is too large to be decided.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from typing import Final, NoReturn, ParamSpec, TypeVar

#: Units of one question: about four seconds of one 2020s processor core. What a plant's own
#: catalogue asks takes a hundredth of it.
MOST_UNITS: Final = 300_000.0

P = ParamSpec("P")
AnswerT = TypeVar("AnswerT")


class TooLarge(RuntimeError):
    """The question takes more work than it may; nothing is known of its answer."""


class TooLate(TooLarge):
    """The caller's clock ended it, so that asked again it may be answered."""


@dataclass(slots=True)
class _Allowance:
    left: float
    is_late: Callable[[], bool]


def _never() -> bool:
    return False


_ALLOWANCE: ContextVar[_Allowance | None] = ContextVar("allowance", default=None)


@contextmanager
def allowed(units: float = MOST_UNITS) -> Iterator[None]:
    """What runs inside may take so many units, whatever was spent outside; late stays late."""
    outer = _ALLOWANCE.get()
    token = _ALLOWANCE.set(_Allowance(units, _never if outer is None else outer.is_late))
    try:
        yield
    finally:
        _ALLOWANCE.reset(token)


@contextmanager
def allowed_of_it(units: float) -> Iterator[None]:
    """What runs inside may take so many units of what is left; they are counted outside too."""
    outer = _ALLOWANCE.get()
    most = min(units, left())
    inner = _Allowance(most, _never if outer is None else outer.is_late)
    token = _ALLOWANCE.set(inner)
    try:
        yield
    finally:
        _ALLOWANCE.reset(token)
        if outer is not None:
            outer.left -= most - inner.left


@contextmanager
def refused_when(is_late: Callable[[], bool]) -> Iterator[None]:
    """What runs inside is refused once ``is_late()`` says so, however little it has taken."""
    outer = _ALLOWANCE.get()
    token = _ALLOWANCE.set(_Allowance(float("inf") if outer is None else outer.left, is_late))
    try:
        yield
    finally:
        _ALLOWANCE.reset(token)


def bounded_by(
    units: float,
) -> Callable[[Callable[P, AnswerT]], Callable[P, AnswerT]]:
    """Decorates one kind of question: each gets so many units; inside another, what is left."""

    def decorated(question: Callable[P, AnswerT]) -> Callable[P, AnswerT]:
        @wraps(question)
        def asked(*args: P.args, **kwargs: P.kwargs) -> AnswerT:
            if left() < float("inf"):
                return question(*args, **kwargs)
            with allowed(units):
                return question(*args, **kwargs)

        return asked

    return decorated


def bounded(question: Callable[P, AnswerT]) -> Callable[P, AnswerT]:
    """``bounded_by`` the units of an ordinary question."""
    return bounded_by(MOST_UNITS)(question)


def left() -> float:
    """Units that may still be spent; infinite where nothing bounds them."""
    current = _ALLOWANCE.get()
    return float("inf") if current is None else current.left


def spend(units: float) -> None:
    """Count work that was done. Raises ``TooLarge`` or ``TooLate`` when that was enough."""
    if is_spent(units):
        refuse()


def refuse() -> NoReturn:
    """Raise ``TooLarge`` or ``TooLate``, by which of them ended the work."""
    allowance = _ALLOWANCE.get()
    if allowance is not None and allowance.left >= 0 and allowance.is_late():
        raise TooLate("It is too late to go on with the question.")
    raise TooLarge("The question is too large to be decided.")


def is_late() -> bool:
    """Whether the caller's clock has ended the work."""
    allowance = _ALLOWANCE.get()
    return allowance is not None and allowance.is_late()


def is_spent(units: float) -> bool:
    """Count work that was done, and say whether it was too much, or it is late."""
    allowance = _ALLOWANCE.get()
    if allowance is None:
        return False
    allowance.left -= units
    return allowance.left < 0 or allowance.is_late()
