"""What people of the plant are told of law: rules on file that changed, or are a year old."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from blendshop.figures.readers import house
from blendshop.notices.actions import Cause, people_of, tell
from blendshop.notices.kinds import Kind, register
from blendshop.roles import Role
from formulas.engine.law.rules import RulePack
from orders.compliance.rule_changes import differences
from orders.models import RulesOnFile

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
        many_link="state_rules_list",
    )
)


#: So many differences stand in a notice.
_MOST_SAID: Final = 4


def is_old(read_on: date, today: date) -> bool:
    """Whether rules read on that day are to be read again."""
    return today - read_on > IS_OLD_AFTER


def tell_changed(changed: Iterable[tuple[RulePack, RulesOnFile]]) -> None:
    """Formulators and office, of each pack that says otherwise than what is on file."""
    causes = [_changed(pack, before) for pack, before in changed]
    tell(RULES_CHANGED, people_of(*_READERS), *causes, by=None)


def tell_old(packs: Iterable[RulePack], today: date) -> None:
    """The same, once of each reading, of rules that were read more than a year ago."""
    old = [pack for pack in packs if is_old(pack.date_checked, today)]
    tell(RULES_OLD, people_of(*_READERS), *map(_old, old), by=None)


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
        link=reverse("state_rules", args=[pack.state]) + f"#{pack.code}",
        about=("rules", pack.code),
    )
