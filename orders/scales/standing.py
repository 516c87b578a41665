"""How each scale stands: verified, overdue, failed, or never written down.

A scale that failed stops weighing until one passes. A missing or old verification only cautions:
a plant that goes live has none yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from django.db.models import OuterRef, Subquery
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from blendshop.errors import IllegalMove
from blendshop.figures.readers import reader
from formulas.engine.plant.load import ScaleKind
from formulas.engine.plant.scale_tolerance import ScaleClass, smallest_load_lb
from orders.models import PlantProfile, ScaleVerification, Tank


class ScaleState(StrEnum):
    NEVER = "never"
    VERIFIED = "verified"
    OVERDUE = "overdue"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class ScaleStanding:
    """One scale of a tank today; ``due_on`` is the last day before it is overdue."""

    tank: Tank
    kind: ScaleKind
    division_lb: float
    scale_class: ScaleClass
    newest: ScaleVerification | None
    due_on: date | None
    state: ScaleState

    @property
    def name(self) -> str:
        """``main scale of Tank 1``."""
        if self.kind is ScaleKind.FINE:
            return _("small scale of %(tank)s") % {"tank": self.tank.name}
        return _("main scale of %(tank)s") % {"tank": self.tank.name}

    @property
    def stops(self) -> bool:
        """Whether nothing may be weighed on it."""
        return self.state is ScaleState.FAILED

    @property
    def is_due(self) -> bool:
        return self.state is not ScaleState.VERIFIED

    @property
    def smallest_lb(self) -> float:
        return smallest_load_lb(self.division_lb, self.scale_class)

    @property
    def words(self) -> str:
        """How it stands, in a sentence."""
        newest = self.newest
        if newest is None:
            return _("No verification of it is written down.")
        told = {
            "day": at_words(newest.checked_at),
            "who": newest.who,
            "to": reader().at_most(newest.test.tested_to_lb, 3),
        }
        if self.state is ScaleState.FAILED:
            return _(
                "Failed on %(day)s, by %(who)s: nothing is weighed on it until it passes again."
            ) % {"day": told["day"], "who": newest.who}
        passed = _("Passed on %(day)s, up to %(to)s lb, by %(who)s.") % told
        if self.state is ScaleState.OVERDUE and self.due_on is not None:
            late = _("Was to be verified again by %(day)s.") % {
                "day": date_format(self.due_on, "M j, Y")
            }
            return f"{late} {passed}"
        return passed


def at_words(moment: datetime) -> str:
    """``Nov 29, 2026 14:02`` by the plant's clock."""
    return date_format(timezone.localtime(moment), "M j, Y H:i")


def kinds_of(tank: Tank) -> tuple[ScaleKind, ...]:
    """The scales a tank has."""
    return (ScaleKind.MAIN,) if tank.fine_scale is None else (ScaleKind.MAIN, ScaleKind.FINE)


def division_lb(tank: Tank, kind: ScaleKind) -> float:
    """Of the main scale also where the small one asked for is gone."""
    fine = tank.fine_scale
    return fine.step_lb if kind is ScaleKind.FINE and fine is not None else tank.scale_step_lb


def class_of(tank: Tank, kind: ScaleKind) -> ScaleClass:
    """A small scale is class III."""
    return ScaleClass(tank.scale_class) if kind is ScaleKind.MAIN else ScaleClass.III


def standings(tanks: Iterable[Tank], today: date) -> list[ScaleStanding]:
    """Every scale of the tanks, those that stop or are due first; a fixed number of queries."""
    wanted = list(tanks)
    newest = _newest(wanted)
    interval = timedelta(days=PlantProfile.load().scale_check_days)
    found = [
        _standing(tank, kind, newest.get((tank.pk, kind)), interval, today)
        for tank in wanted
        for kind in kinds_of(tank)
    ]
    order = [ScaleState.FAILED, ScaleState.OVERDUE, ScaleState.NEVER, ScaleState.VERIFIED]
    return sorted(found, key=lambda each: order.index(each.state))


def cautions(tank: Tank, kinds: Collection[ScaleKind], today: date) -> list[ScaleStanding]:
    """What to say where something is weighed on these scales of a tank.

    Nothing while the plant has written down no verification at all.
    """
    if not ScaleVerification.objects.exists():
        return []
    return [each for each in standings([tank], today) if each.is_due and each.kind in kinds]


def require_usable(tank: Tank, kind: ScaleKind, weighed_at: datetime | None) -> None:
    """IllegalMove for a weight taken on a scale since it failed its verification.

    What was weighed before is in the tank and is written down.
    """
    newest = _newest([tank]).get((tank.pk, kind))
    if newest is None or newest.passed:
        return
    if weighed_at is not None and weighed_at < newest.checked_at:
        return
    failed = _standing(tank, kind, newest, timedelta(0), timezone.localdate())
    raise IllegalMove(
        _(
            "The %(scale)s failed its verification on %(day)s: nothing is weighed on it until it"
            " passes one."
        )
        % {"scale": failed.name, "day": at_words(newest.checked_at)}
    )


def _newest(tanks: Collection[Tank]) -> dict[tuple[int, ScaleKind], ScaleVerification]:
    """The verification that holds now, by tank and scale; one query."""
    of_scale = ScaleVerification.objects.filter(tank=OuterRef("tank"), scale=OuterRef("scale"))
    newest = of_scale.order_by("-checked_at", "-pk").values("pk")[:1]
    rows = ScaleVerification.objects.filter(tank__in=tanks, pk=Subquery(newest))
    return {(row.tank_id, ScaleKind(row.scale)): row for row in rows}


def _standing(
    tank: Tank,
    kind: ScaleKind,
    newest: ScaleVerification | None,
    interval: timedelta,
    today: date,
) -> ScaleStanding:
    due_on = None
    if newest is None:
        state = ScaleState.NEVER
    else:
        due_on = timezone.localdate(newest.checked_at) + interval
        if not newest.passed:
            state = ScaleState.FAILED
        else:
            state = ScaleState.OVERDUE if today > due_on else ScaleState.VERIFIED
    return ScaleStanding(
        tank, kind, division_lb(tank, kind), class_of(tank, kind), newest, due_on, state
    )
