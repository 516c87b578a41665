"""What page and paper of a season show: figures, limits, what to change, what may be done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from blendshop.accounts.models import User
from formulas.engine_bridge import load_catalogue
from orders.models import Property, SeasonProgram
from orders.season.access import may_change
from orders.season.changes import WhatToChange, what_to_change
from orders.season.figures import (
    RoundFigures,
    SeasonFigures,
    properties_of,
    rounds_of,
    season_figures,
    treated_in,
)
from orders.season.law import Over, SeasonLaw, alike_properties, check_season_of

#: What the law's findings call it, too.
NOT_ASSESSED: Final = "not-assessed"
#: Its verdicts in the reader's language.
_VERDICTS: Final = {
    "fails": gettext_lazy("fails"),
    "likely-fails": gettext_lazy("likely fails (figures unverified)"),
    NOT_ASSESSED: gettext_lazy("not assessed"),
    "passes": gettext_lazy("passes"),
}


@dataclass(frozen=True, slots=True)
class ShownRound:
    """A round's figures with what the law says of it: ``slug`` and ``words`` of the worst."""

    figures: RoundFigures
    slug: str
    words: Promise
    over: tuple[Over, ...]


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """A program as it stands today."""

    program: SeasonProgram
    properties: tuple[Property, ...]
    figures: SeasonFigures
    law: SeasonLaw
    rounds: tuple[ShownRound, ...]
    change: WhatToChange | None
    to_reserve: int

    @property
    def over_count(self) -> int:
        return len(self.law.over)

    @property
    def any_unassessed(self) -> bool:
        """Whether of some round a rule was not read, or lacks what only the place could tell."""
        return any(each.slug == NOT_ASSESSED for each in self.rounds)

    @property
    def is_reserved(self) -> bool:
        return self.program.is_reserved

    @property
    def shows_reserved(self) -> bool:
        """Whether some round is reserved or released."""
        return any(each.figures.reserved is not None for each in self.rounds)

    @property
    def may_be_reserved(self) -> bool:
        """Whether there is something to reserve and nothing is reserved yet."""
        return not self.is_reserved and self.to_reserve > 0

    @property
    def any_released(self) -> bool:
        return any(each.round.released_as for each in self.figures.rounds)


def season_page(program: SeasonProgram, today: date, *, changes: bool = True) -> SeasonPage:
    """Read, figured and checked; ``changes`` also looks for what would put limits right."""
    rounds, properties = rounds_of(program), properties_of(program)
    catalogue = load_catalogue(today)
    figures = season_figures(program, rounds, properties, catalogue=catalogue, today=today)
    law = check_season_of(alike_properties(program, treated_in(rounds, properties), rounds))
    shown = []
    for each in figures.rounds:
        slug, _words = law.words_of.get(each.round.pk, (NOT_ASSESSED, ""))
        shown.append(ShownRound(each, slug, _VERDICTS[slug], law.over_in(each.round)))
    return SeasonPage(
        program=program,
        properties=tuple(properties),
        figures=figures,
        law=law,
        rounds=tuple(shown),
        change=what_to_change(law, catalogue) if changes and law.over else None,
        to_reserve=sum(each.packages for each in figures.to_come(today)),
    )


def rights(user: User, program: SeasonProgram) -> dict[str, bool]:
    """What the person may do with it, for the template."""
    may = may_change(user, program.company)
    return {"may_change": may, "may_edit": may and not program.is_reserved}
