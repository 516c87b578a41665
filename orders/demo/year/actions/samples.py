"""A sample kept of every load, and thrown out once its time was over."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from blendshop.accounts.models import User
from orders.demo.year import calendar
from orders.demo.year.actions.batches import Made
from orders.demo.year.actions.dated import put_in
from orders.models import RetainedSample, SampleDiscarded
from orders.shift.samples import KEEP_DAYS

_NOTE: Final = "Demo, invented."
_THROWN_OUT_AT: Final = 16 * 60


def add_samples(made: Sequence[Made], worker: User, today: date) -> None:
    """Each on the demo's shelf until its day, the oldest gone on the working day after."""
    signed = {"by": worker, "who": str(worker)}
    samples = put_in(
        RetainedSample,
        (
            RetainedSample(
                batch=each.batch,
                taken_at=each.done_at,
                kept_in="demo sample shelf",
                keep_until=each.load.made_on + timedelta(days=KEEP_DAYS),
                note=_NOTE,
                key=f"demo-year-{each.batch.number}-sample",
                at=each.done_at,
                **signed,
            )
            for each in made
        ),
    )
    over = [row for row in samples if calendar.after(row.keep_until, 1) < today]
    put_in(
        SampleDiscarded,
        (
            SampleDiscarded(
                sample=row,
                why="Its time was over. Demo, invented.",
                key=f"{row.key}-out",
                at=calendar.moment(calendar.after(row.keep_until, 1), _THROWN_OUT_AT),
                **signed,
            )
            for row in over
        ),
    )
