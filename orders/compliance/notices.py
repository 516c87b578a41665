"""What people of the plant are told of law: rules on file that changed, or are a year old."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Final

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from formulas.engine.law.rules import RulePack
from formulas.reference.rule_packs import rule_packs
from orders.compliance.rule_changes import differences, said_by
from orders.models import RulesOnFile, ShipTo

#: The house's own rule: a legislature meets once a year or less.
IS_OLD_AFTER: Final = timedelta(days=365)
_READERS: Final = frozenset({Role.FORMULATOR, Role.OFFICE})

RULES_CHANGED: Final = register(Kind("rules_anew", gettext_lazy("State rule changed"), _READERS))
RULES_OLD: Final = register(
    Kind(
        "rules_old",
        gettext_lazy("State rule older than a year"),
        _READERS,
        many=gettext_lazy("Rules of {count} places were read more than a year ago: {names}"),
        many_link="season_plan",
    )
)


#: So many differences stand in a notice.
_MOST_SAID: Final = 4


def tell_of_rules(today: date) -> None:
    """Formulators and office, for the states the plant ships to: rules that changed, or are old.

    Changed is what says something else than when it was looked at last; a rule that was only read
    again is not. The first look at a place's rules tells nothing.
    """
    states = set(ShipTo.objects.values_list("state", flat=True).distinct())
    packs = [pack for pack in rule_packs() if pack.state in states]
    with transaction.atomic():
        # Held: two looks at once tell once.
        rows = RulesOnFile.objects.select_for_update().filter(code__in=[p.code for p in packs])
        kept = {row.code: row for row in rows}
        tell(
            RULES_CHANGED,
            people_of(*_READERS),
            *(_changed(pack, kept[pack.code]) for pack in packs if _differs(pack, kept)),
            by=None,
        )
        for pack in packs:
            if pack.code not in kept or kept[pack.code].said != said_by(pack):
                RulesOnFile.objects.update_or_create(
                    code=pack.code, defaults={"said": said_by(pack), "noted_at": timezone.now()}
                )
        old = [pack for pack in packs if today - pack.date_checked > IS_OLD_AFTER]
        tell(RULES_OLD, people_of(*_READERS), *map(_old, old), by=None)


def _differs(pack: RulePack, kept: Mapping[str, RulesOnFile]) -> bool:
    return pack.code in kept and bool(differences(kept[pack.code].said, pack))


def _changed(pack: RulePack, before: RulesOnFile) -> Cause:
    found = differences(before.said, pack)
    said = "; ".join(found[:_MOST_SAID])
    if (more := len(found) - _MOST_SAID) > 0:
        said += "; " + ngettext("{count} more", "{count} more", more).format(count=more)
    text = _("The rules of {place} changed: {said}. Look at labels and plans for there.")
    return _cause(
        pack,
        text.format(place=pack.jurisdiction, said=said),
        # What it was changed from, and when: the same change back is told too.
        key=f"{pack.code}:{before.pk}:{before.noted_at.isoformat()}",
    )


def _old(pack: RulePack) -> Cause:
    text = _("The rules of {place} were read on {day}, over a year ago; the state's text decides.")
    day = house().date(pack.date_checked)
    return _cause(
        pack,
        text.format(place=pack.jurisdiction, day=day),
        key=f"{pack.code}:{pack.date_checked}",
    )


def _cause(pack: RulePack, text: str, *, key: str) -> Cause:
    return Cause(
        key=key,
        name=pack.jurisdiction,
        text=text,
        link=reverse("season_plan"),
        about=("rules", pack.code),
    )
