"""What people of the plant are told of law: rules on file that were read anew or a year ago."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from formulas.engine.law.rules import RulePack
from formulas.reference.rule_packs import rule_packs
from orders.models import ShipTo

#: The house's own rule: a legislature meets once a year or less.
IS_OLD_AFTER: Final = timedelta(days=365)
#: An upgrade that comes later than this after the reading is not told of as new.
IS_NEW_FOR: Final = timedelta(days=30)
_READERS: Final = frozenset({Role.FORMULATOR, Role.OFFICE})

RULES_ANEW: Final = register(
    Kind(
        "rules_anew",
        gettext_lazy("State rule read anew"),
        _READERS,
        many=gettext_lazy("Rules of {count} places were read anew: {names}"),
        many_link="season_plan",
    )
)
RULES_OLD: Final = register(
    Kind(
        "rules_old",
        gettext_lazy("State rule older than a year"),
        _READERS,
        many=gettext_lazy("Rules of {count} places were read more than a year ago: {names}"),
        many_link="season_plan",
    )
)


def tell_of_rules(today: date) -> None:
    """Formulators and office, once of each reading, for the states the plant ships to."""
    states = set(ShipTo.objects.values_list("state", flat=True).distinct())
    packs = [pack for pack in rule_packs() if pack.state in states]
    anew = _("The rules of {place} were read anew on {day}; look at labels and plans for there.")
    old = _("The rules of {place} were read on {day}, over a year ago; the state's text decides.")
    with transaction.atomic():
        for kind, text, of in (
            (RULES_ANEW, anew, [p for p in packs if today - p.date_checked <= IS_NEW_FOR]),
            (RULES_OLD, old, [p for p in packs if today - p.date_checked > IS_OLD_AFTER]),
        ):
            causes = [_cause(pack, text) for pack in of]
            tell(kind, people_of(*_READERS), *causes, by=None)


def _cause(pack: RulePack, text: str) -> Cause:
    return Cause(
        key=f"{pack.code}:{pack.date_checked}",
        name=pack.jurisdiction,
        text=text.format(place=pack.jurisdiction, day=house().date(pack.date_checked)),
        link=reverse("season_plan"),
        about=("rules", pack.code),
    )
