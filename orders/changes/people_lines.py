"""Lines of people: who was added, whose roles and access changed. For the office alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.db.models import Q

from blendshop.accounts.models import SecurityEvent, User
from orders.changes.lines import FieldChange, Kind, Line
from orders.changes.source import Source

#: Between what was and what is, as ``accounts.actions.way_in`` writes it.
_ARROW = " → "


def people_source() -> Source:
    return Source(
        key="SecurityEvent",
        kind=Kind.PEOPLE,
        rows=lambda: SecurityEvent.objects.filter(kind__in=SecurityEvent.OF_ROLES),
        when="at",
        person="who",
        of_record=lambda text: Q(whom_name__icontains=text) | Q(whom__email__icontains=text),
        read=_lines,
    )


def _lines(pks: Sequence[int], user: User) -> Iterator[Line]:
    for row in SecurityEvent.objects.filter(pk__in=pks):
        is_roles = row.kind == SecurityEvent.Kind.ROLES_CHANGED
        old, arrow, new = row.what.partition(_ARROW) if is_roles else ("", "", "")
        changed = (FieldChange(str(row.get_kind_display()), old, new),) if arrow else ()
        yield Line(
            source="SecurityEvent",
            pk=row.pk,
            at=row.at,
            who=row.who_name,
            kind=Kind.PEOPLE,
            record=row.whom_name,
            verb="" if changed else str(row.get_kind_display()),
            fields=changed,
            why="" if changed else row.what,
        )
