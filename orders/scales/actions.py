"""Writing down that a scale was verified with known loads."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.engine.plant.load import ScaleKind
from formulas.engine.plant.scale_tolerance import (
    MOST_DIVISIONS,
    is_within,
    tolerance_lb,
    tolerance_source,
)
from orders.frozen.scale_test import LoadTested, ScaleTest
from orders.models import ScaleVerification, Tank
from orders.scales.standing import class_of, division_lb, kinds_of
from orders.tanks.actions.ledger import locked, require_key

VERIFIERS: Final = (Role.PLANT, Role.FORMULATOR)


@dataclass(frozen=True, slots=True)
class Verified:
    """What was put on the scale and read, lb. ``weights`` names the test weights.

    ``is_acceptance``: the scale is new, repaired or just adjusted, and held to half.
    """

    loads: Sequence[tuple[Decimal, Decimal]]
    weights: str
    checked_at: datetime
    is_acceptance: bool = False
    note: str = ""


def record_verification(
    *, tank: Tank, kind: ScaleKind, verified: Verified, key: str, acting_user: User
) -> ScaleVerification:
    """Write down a verification; it passed where every reading is within the class's tolerance.

    The same key again gives the row that is there. BadInput without a load or for a load the
    scale cannot take, or for a time still to come.
    """
    require_role(acting_user, *VERIFIERS)
    require_key(key)
    if kind not in kinds_of(tank):
        raise BadInput(_("%(tank)s has no small scale.") % {"tank": tank.name})
    test = _test(tank, kind, verified)
    with transaction.atomic():
        locked(tank)
        done: ScaleVerification | None = ScaleVerification.objects.filter(key=key).first()
        if done is not None:
            return done
        row = ScaleVerification(
            tank=tank,
            scale=kind.value,
            checked_at=verified.checked_at,
            weights=verified.weights.strip()[:200],
            loads=test.to_json(),
            passed=test.passed,
            note=verified.note.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
        return save_valid(row, acting_user)


def _test(tank: Tank, kind: ScaleKind, verified: Verified) -> ScaleTest:
    if verified.checked_at > timezone.now():
        raise _refused("checked_at", _("That is still to come."))
    if not verified.weights.strip():
        raise _refused("weights", _("Say with which test weights."))
    if not verified.loads:
        raise _refused("load_1", _("Give a test load and what the scale read."))
    division = division_lb(tank, kind)
    scale_class = class_of(tank, kind)
    most = _most_lb(tank, kind, division)
    loads = []
    for number, (load, reading) in enumerate(verified.loads, start=1):
        load_lb, reading_lb = float(load), float(reading)
        if not 0 < load_lb <= most:
            raise _refused(
                f"load_{number}",
                _("A test load is above zero and at most %(most)s lb on this scale.")
                % {"most": f"{most:g}"},
            )
        if reading_lb < 0:
            raise _refused(f"reading_{number}", _("A scale does not read less than nothing."))
        allowed = tolerance_lb(load_lb, division, scale_class, is_acceptance=verified.is_acceptance)
        within = is_within(load_lb, reading_lb, allowed, division)
        loads.append(LoadTested(load_lb, reading_lb, allowed, within))
    source = tolerance_source(scale_class, is_acceptance=verified.is_acceptance)
    return ScaleTest(
        scale_class=scale_class,
        division_lb=division,
        is_acceptance=verified.is_acceptance,
        loads=tuple(loads),
        source=f"{source.text} ({source.mark.label})",
    )


def _most_lb(tank: Tank, kind: ScaleKind, division: float) -> float:
    if kind is ScaleKind.FINE and tank.fine_scale is not None:
        return tank.fine_scale.max_lb
    return MOST_DIVISIONS * division


def _refused(name: str, message: str) -> BadInput:
    return BadInput(message, fields={name: message})
