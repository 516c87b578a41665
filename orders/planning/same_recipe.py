"""Which revisions are one thing to make, whatever the blends are called.

Two revisions share a tank when they blend the same stocks in the same shares and promise the
same: wished limits, slow-release share and grade. Each order line keeps its own product's name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from formulas.answers.wish import Range
from formulas.models import BlendRevision
from orders.planning.recipe_meetings import recipe_shares_pct

#: Half a unit of the second decimal, as shares are shown: less is rounding, not another recipe.
SHARE_ROUNDING_PCT: Final = 0.005


@dataclass(frozen=True, slots=True)
class Make:
    """What a revision blends, percent by weight by stock, and what it promises."""

    shares: Mapping[str, float]
    targets: Mapping[str, Range]
    slow_release: Range
    grade: str

    def is_same(self, other: Make) -> bool:
        return (
            (self.targets, self.slow_release, self.grade)
            == (other.targets, other.slow_release, other.grade)
            and self.shares.keys() == other.shares.keys()
            and all(
                abs(pct - other.shares[code]) <= SHARE_ROUNDING_PCT
                for code, pct in self.shares.items()
            )
        )


def made_as(revisions: Iterable[BlendRevision]) -> dict[int, int]:
    """The id of the first of the revisions that is the same to make, by each one's id.

    One query, whatever the number of revisions.
    """
    distinct = list({revision.pk: revision for revision in revisions}.values())
    shares = recipe_shares_pct(revision.pk for revision in distinct)
    firsts: list[tuple[int, Make]] = []
    found = {}
    for revision in distinct:
        make = _make(revision, shares[revision.pk])
        first = next((pk for pk, other in firsts if other.is_same(make)), None)
        if first is None:
            firsts.append((revision.pk, make))
        found[revision.pk] = revision.pk if first is None else first
    return found


def _make(revision: BlendRevision, shares: Mapping[str, float]) -> Make:
    wished = revision.wished
    return Make(
        shares=shares,
        targets={target.nutrient: target.range for target in wished.targets},
        slow_release=wished.slow_release_pct or Range(),
        grade=revision.grade,
    )
