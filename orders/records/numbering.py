"""Running numbers of quotes, orders and batches: Q-2026-0001, one series a prefix and year."""

from django.db import IntegrityError, connection, transaction
from django.db.models import F
from django.utils import timezone

from orders.models import NumberSeries


def next_number(prefix: str) -> str:
    """The next number of this year's series, taken inside the caller's transaction.

    The count-up locks the series' row until the caller commits, so two at once never share a
    number, and a number taken by a transaction that fails is given out again: no gaps. Raises
    RuntimeError outside a transaction, where that promise could not be kept.
    """
    series = _counted_up(prefix, by=1)
    return f"{prefix}-{series.year}-{series.last:04d}"


def next_numbers(prefix: str, count: int) -> list[str]:
    """So many numbers of this year's series at once; as ``next_number`` otherwise."""
    series = _counted_up(prefix, by=count)
    return [
        f"{prefix}-{series.year}-{last:04d}"
        for last in range(series.last - count + 1, series.last + 1)
    ]


def hold_series(prefix: str) -> None:
    """Nobody takes a number of this year's series until the caller commits.

    For what has to be read after the one before was written, and before the next one is.
    """
    _counted_up(prefix, by=0)


def _counted_up(prefix: str, *, by: int) -> NumberSeries:
    if not connection.in_atomic_block:
        raise RuntimeError("A number is taken inside the transaction that uses it.")
    year = timezone.localdate().year
    series = NumberSeries.objects.filter(prefix=prefix, year=year)
    if not series.update(last=F("last") + by):
        try:
            with transaction.atomic():
                NumberSeries.objects.create(prefix=prefix, year=year, last=by)
        except IntegrityError:
            # Somebody else opened this year's series between our look and our insert.
            series.update(last=F("last") + by)
    found: NumberSeries = series.get()
    return found
