"""Work that draws one file: a table or papers too long for a page."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _

from blendshop.long_work.kinds import Assignment, Download, Kind, Outcome, register
from blendshop.roles import Role

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def register_file(
    *,
    name: str,
    title: StrOrPromise,
    roles: frozenset[Role],
    draw: Callable[[Assignment], Download],
    begun_at: str,
) -> Kind:
    """A kind whose one part draws a file for whoever asked."""

    def part(assignment: Assignment, number: int) -> dict[str, str]:
        drawn = draw(assignment)
        return {"name": drawn.name, "content": base64.b64encode(drawn.content).decode()}

    return register(
        Kind(name=name, title=title, roles=roles, part=part, combine=_kept, begun_at=begun_at)
    )


def _kept(assignment: Assignment, answers: Sequence[Any]) -> Outcome:
    [drawn] = answers
    return Outcome(
        says=_("The file is ready."),
        download=Download(drawn["name"], base64.b64decode(drawn["content"])),
    )
