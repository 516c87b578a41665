"""What each tank does today: what is in it, what is being charged, what comes next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Subquery

from orders.models import Batch, Charge, Tank, TankCleaning
from orders.planning.tank_sequence import tank_sequences
from orders.production.steps import Step, current_step, not_charged, steps_of_batches
from orders.tanks.contents import Change
from orders.tanks.page import TankNow, tanks_now


@dataclass(frozen=True, slots=True)
class Begun:
    """A batch on its way into its tank: how many of its stocks are in, and who weighed last."""

    batch: Batch
    steps: tuple[Step, ...]

    @property
    def to_come(self) -> tuple[Step, ...]:
        return tuple(not_charged(self.steps))

    @property
    def done(self) -> int:
        return len(self.steps) - len(self.to_come)

    @property
    def now(self) -> Step | None:
        """The weighing to go on with."""
        return current_step(self.steps)

    @property
    def last(self) -> Charge | None:
        charges = [charge for step in self.steps for charge in step.charges]
        return max(charges, key=lambda charge: charge.pk, default=None)

    @property
    def last_at(self) -> datetime | None:
        """When the last weight was taken, by the tablet's clock where it says."""
        return None if self.last is None else self.last.weighed_at or self.last.at


@dataclass(frozen=True, slots=True)
class TankToday:
    """``coming`` in the suggested order; ``cleaned`` is of what the tank holds now."""

    now: TankNow
    begun: Begun | None
    coming: tuple[Change, ...]
    cleaned: TankCleaning | None

    @property
    def tank(self) -> Tank:
        return self.now.tank

    @property
    def next(self) -> Change | None:
        return self.coming[0] if self.coming else None

    @property
    def asks_cleaning(self) -> bool:
        """Whether the next batch needs a flush that nobody has signed, now that it can be done."""
        is_drained = not self.now.held.is_occupied
        asked = self.next is not None and self.next.needs_flush
        return asked and is_drained and self.cleaned is None


def begun_batches() -> list[Begun]:
    """Batches being charged, most urgent first."""
    charging = Batch.objects.filter(status=Batch.Status.CHARGING)
    batches = list(charging.for_list().by_due_date())
    steps = steps_of_batches(batches)
    return [Begun(batch, tuple(steps[batch.pk])) for batch in batches]


def tanks_today(begun: Sequence[Begun]) -> list[TankToday]:
    """Every tank in use by name."""
    coming = {each.tank.pk: each.changes for each in tank_sequences()}
    charging = {each.batch.tank_id: each for each in begun}
    cleaned = _newest_cleanings()
    return [
        TankToday(
            now=now,
            begun=charging.get(now.tank.pk),
            coming=coming.get(now.tank.pk, ()),
            cleaned=_of_present_contents(cleaned.get(now.tank.pk), now),
        )
        for now in tanks_now()
    ]


def _newest_cleanings() -> Mapping[int, TankCleaning]:
    of_tank = TankCleaning.objects.filter(tank=OuterRef("pk")).order_by("-pk").values("pk")
    newest = Tank.objects.filter(active=True).order_by().annotate(newest=Subquery(of_tank[:1]))
    rows = TankCleaning.objects.filter(pk__in=newest.values("newest"))
    return {row.tank_id: row for row in rows}


def _of_present_contents(cleaning: TankCleaning | None, now: TankNow) -> TankCleaning | None:
    """The cleaning while nothing has happened to the tank since."""
    entry = None if now.entry is None else now.entry.pk
    return cleaning if cleaning is not None and cleaning.entry_id == entry else None
