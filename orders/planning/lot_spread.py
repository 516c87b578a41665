"""Room for lots of one stock that differ: which of them a weight is over or short in is not known.

A stock that comes from several lots is planned with the figures ``A`` of their mixture. Being
``d`` pounds off in lot ``l`` moves content k by ``d A_lk`` and not by ``d A_k``, so a minimum that
holds for the mixture in every box holds for the lots too once it is raised by::

    e_k = sum over stocks of  t_i max_l |A_lk - A_ik| / M      percent by weight

with ``t_i`` the most a weight may be off and M the pounds of the load; a maximum is lowered by as
much, and the slow-release share is moved by the same of ``slow - s N`` over the nitrogen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from formulas.engine.composition import WISH_KEYS, content_pct, slow_n_pct
from formulas.engine.plant.load import LoadQuestion, PlannedLoad
from formulas.engine.problem import NutrientWish, SlowReleaseWish


@dataclass(frozen=True, slots=True)
class Spread:
    """A stock from several lots: how far one may stand from the mixture, percent by key.

    ``slow_pct`` is the farthest of ``slow - s N`` for the promised shares s.
    """

    code: str
    off_lb: float
    pct: Mapping[str, float]
    slow_pct: float

    def off_by(self, off_lb: float) -> Spread:
        return replace(self, off_lb=off_lb)


def spread_of(
    code: str,
    mixture: Mapping[str, float],
    parts: Sequence[Mapping[str, float]],
    shares_pct: Sequence[float],
    off_lb: float,
) -> Spread:
    """The spread of a stock's parts around their mixture; ``shares_pct`` are promised shares."""
    return Spread(
        code=code,
        off_lb=off_lb,
        pct={
            key: max(abs(content_pct(part, key) - content_pct(mixture, key)) for part in parts)
            for key in WISH_KEYS
        },
        slow_pct=max(
            (
                abs(_beyond(part, share) - _beyond(mixture, share))
                for part in parts
                for share in shares_pct
            ),
            default=0.0,
        ),
    )


@dataclass(frozen=True, slots=True)
class LotRoom:
    """By how much limits are drawn in: percent by weight by key, and of the slow share."""

    pct: Mapping[str, float]
    slow_release_pct: float

    @classmethod
    def of(cls, spreads: Sequence[Spread], mass_lb: float, n_pct: float) -> LotRoom:
        slow_lb = sum(each.off_lb * each.slow_pct / 100 for each in spreads)
        return cls(
            pct={
                key: sum(each.off_lb * each.pct[key] for each in spreads) / mass_lb
                for key in WISH_KEYS
            },
            slow_release_pct=100 * slow_lb / (mass_lb * n_pct / 100) if slow_lb else 0.0,
        )

    def holds(self, other: LotRoom) -> bool:
        """Whether limits drawn in by this much are also drawn in by the other."""
        return self.slow_release_pct >= other.slow_release_pct and all(
            self.pct[key] >= other.pct[key] for key in WISH_KEYS
        )

    def drawn_in(self, question: LoadQuestion) -> LoadQuestion:
        """The question with every limit moved inward by this room."""
        problem, slow = question.problem, question.problem.slow_release
        by = self.slow_release_pct
        return replace(
            question,
            problem=replace(
                problem,
                wishes=tuple(self._wish(wish) for wish in problem.wishes),
                slow_release=None
                if slow is None
                else SlowReleaseWish(
                    None if slow.min_pct is None else slow.min_pct + by,
                    None if slow.max_pct is None else slow.max_pct - by,
                ),
            ),
            printed_pct={key: pct + self.pct[key] for key, pct in question.printed_pct.items()},
        )

    def _wish(self, wish: NutrientWish) -> NutrientWish:
        by = self.pct[wish.nutrient]
        return NutrientWish(
            wish.nutrient,
            None if wish.min_pct is None else wish.min_pct + by,
            None if wish.max_pct is None else wish.max_pct - by,
        )

    def least_pct(self, load: PlannedLoad) -> dict[str, float]:
        """What is sure of each content also when a weight is off in one lot alone."""
        return {key: max(0.0, pct - self.pct.get(key, 0.0)) for key, pct in load.least_pct.items()}


def _beyond(analysis: Mapping[str, float], share_pct: float) -> float:
    """Slow-release nitrogen beyond a share of all nitrogen, percent by weight."""
    return slow_n_pct(analysis) - share_pct / 100 * content_pct(analysis, "N")
