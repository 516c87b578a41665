"""Registering jar tests, and withdrawing one that must not count."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.core.files.base import File
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import Role, require_role
from blendshop.saving import save_valid
from formulas.models import BaseStock, BlendRevision, JarShare, JarTest, JarTestWithdrawal

REGISTRARS: Final = (Role.FORMULATOR, Role.PLANT, Role.REP)
WITHDRAWERS: Final = (Role.FORMULATOR,)


@dataclass(frozen=True, slots=True)
class Jar:
    """A finished jar. ``parts`` are weights of each stock in one unit, grams or percent alike."""

    parts: Mapping[BaseStock, float]
    tested_on: date
    days: float
    temperature_f: float
    outcome: str
    note: str = ""
    photo: "File[bytes] | None" = None
    revision: BlendRevision | None = None


def register_jar_test(*, jar: Jar, key: str, acting_user: User) -> JarTest:
    """Write a finished jar test down; the same key again gives the one that is there.

    BadInput for weights that are no recipe, a start in the future, or more days than have
    passed since the start.
    """
    require_role(acting_user, *REGISTRARS)
    shares = _shares(jar.parts)
    _check_days(jar)
    try:
        with transaction.atomic():
            done: JarTest | None = JarTest.objects.filter(key=key).first()
            return done or _write(jar, shares, key, acting_user)
    except IntegrityError:
        # The same form twice at one moment: the other one has it.
        found: JarTest | None = JarTest.objects.filter(key=key).first()
        if found is None:
            raise
        return found


def withdraw_jar_test(*, jar_test: JarTest, why: str, acting_user: User) -> JarTestWithdrawal:
    """Let a jar test count no more, for a reason; it stays to be read."""
    require_role(acting_user, *WITHDRAWERS)
    if not why.strip():
        raise BadInput(
            _("Say why the jar test must not count."), fields={"why": _("Give a reason.")}
        )
    with transaction.atomic():
        if JarTestWithdrawal.objects.filter(jar_test=jar_test).exists():
            raise IllegalMove(_("{code} is withdrawn already.").format(code=jar_test.code))
        return save_valid(
            JarTestWithdrawal(
                jar_test=jar_test, why=why.strip(), by=acting_user, who=str(acting_user)
            ),
            acting_user,
        )


def _write(jar: Jar, shares: Mapping[BaseStock, float], key: str, acting_user: User) -> JarTest:
    written = save_valid(
        JarTest(
            revision=jar.revision,
            tested_on=jar.tested_on,
            days=jar.days,
            temperature_f=jar.temperature_f,
            outcome=jar.outcome,
            note=jar.note.strip(),
            photo=jar.photo or "",
            key=key,
            by=acting_user,
            who=str(acting_user),
        ),
        acting_user,
    )
    JarShare.objects.bulk_create(
        JarShare(jar_test=written, stock=stock, pct=pct) for stock, pct in shares.items()
    )
    return written


def _shares(parts: Mapping[BaseStock, float]) -> dict[BaseStock, float]:
    """The parts as percent by weight of the jar."""
    wrong = {
        f"part_{stock.code}": "Must be a number above 0."
        for stock, part in parts.items()
        if not (math.isfinite(part) and part > 0)
    }
    if wrong or not parts:
        raise BadInput(
            _("A jar holds at least one stock, each with a weight above 0."), fields=wrong
        )
    total = sum(parts.values())
    return {stock: 100.0 * part / total for stock, part in parts.items()}


def _check_days(jar: Jar) -> None:
    if not (math.isfinite(jar.days) and math.isfinite(jar.temperature_f)):
        raise BadInput(
            _("Days and temperature are numbers."), fields={"days": _("Must be a number.")}
        )
    passed = (timezone.localdate() - jar.tested_on).days
    if passed < 0:
        message = _("The day lies in the future.")
        raise BadInput(message, fields={"tested_on": message})
    # The hours of the first and the last day may add up to one more.
    if jar.days > passed + 1:
        message = _(
            "Only {passed} days have passed since it was mixed: register it when it is over."
        ).format(passed=passed)
        raise BadInput(message, fields={"days": message})
