"""Formulate so that the guarantees hold in the batch as made, not only on paper.

For every wished minimum ``G_k`` the blend aims at ``G_k + z sigma_k``, sigma_k being the spread
of that content in this very blend: solve, compute sigma at the solution, tighten, repeat until
it stands. A content is close to normal, so it falls below its guarantee with chance Phi(-z). A
batch is short when *any* guarantee is: a chance that is asked for is that of any, slow-release
share included, and z follows from how the contents of this blend scatter together
(``joint_chance``). It is larger than one guarantee alone would need.

Whether it stands is *checked*, not assumed: the aims used must equal guarantee + z sigma of the
blend they gave. While the recipe uses the same stocks, sigma changes by a few percent of what
the aim changes, so the steps shrink geometrically. Where the cheapest recipe jumps between
corners they need not: after ``_FREE_ROUNDS`` the aims may only rise, and a rising sequence that
is bounded by 100 % ends. If the aims go beyond reach, the way back to the last aims that could be
had is halved in search of a blend that keeps its own margins, for a recipe with less scatter
may lie there. A blend found in either way keeps every margin but may keep more than asked; it is
marked as not tight. If nothing stands within the rounds, ``EngineFailure`` says so.

Maxima are kept as asked, without a margin. The chances are for the spreads given: sampling and
laboratory error count only if the assay spreads include them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final

import numpy as np

from formulas.engine.blend.joint_chance import chance_of_any, standard_deviations_for
from formulas.engine.blend.margin_spread import Scatter, Spreads, scatter_of, spread_errors
from formulas.engine.blend.programs import Floats
from formulas.engine.blend.solving import solve
from formulas.engine.density import mass_lb_for
from formulas.engine.problem import BadProblem, BlendProblem, FieldError, NutrientWish
from formulas.engine.result import EngineFailure, OutOfReach, Solved
from formulas.engine.wishes import SLOW_RELEASE, Side, WishId, WishKind
from formulas.engine.work.effort import bounded

#: ``allowance(key, guarantee_pct)``: percentage points a sample may be short, None if no rule.
Allowance = Callable[[str, float], float | None]

#: Aims that move by less than this (percentage points) stand.
SETTLED_PCT: Final = 1e-6
_FREE_ROUNDS: Final = 30
_ROUNDS: Final = 90
#: Halvings on the way back from aims beyond reach: to a millionth of the way.
_HALVINGS: Final = 20
#: Standard deviations that can be meant.
_LARGEST_Z: Final = 6.0
_NORMAL: Final = NormalDist()
#: Nutrients of the index.
_PRIMARY: Final = ("N", "P2O5", "K2O")


@dataclass(frozen=True, slots=True)
class GuaranteeMargin:
    """One guaranteed minimum: what the blend holds, how it scatters, how likely it is short.

    ``key`` is a composition key or ``SLOW_RELEASE``. ``chance_below_guarantee`` and
    ``chance_deficient`` are fractions: of a batch below the guarantee, and below the guarantee
    less the allowance. ``allowance_pct`` is None where no rule gives one; nothing is then taken
    off.
    """

    key: str
    guarantee_pct: float
    aim_pct: float
    expected_pct: float
    sigma_pct: float
    allowance_pct: float | None
    chance_below_guarantee: float
    chance_deficient: float


@dataclass(frozen=True, slots=True)
class MarginSolved:
    """A blend that keeps its margins; ``margin_cost_per_lb`` is what they add, in $/lb.

    ``z`` is what each guarantee has to spare, in its standard deviations. ``chance_any_missed``
    is the chance (a fraction) that any guarantee is missed, ``chance_deficient_any`` that any is
    by more than its allowance, and ``chance_index_low`` that the primary nutrients found, taken
    together, are below the index; None without a guaranteed primary nutrient. ``is_tight`` is
    False where the blend may keep more margin than asked (see the module).
    """

    answer: Solved
    guarantees: tuple[GuaranteeMargin, ...]
    chance_any_missed: float
    chance_deficient_any: float
    chance_index_low: float | None
    z: float
    margin_cost_per_lb: float
    rounds: int
    is_tight: bool


@dataclass(frozen=True, slots=True)
class MarginOutOfReach:
    """No blend was found that keeps the margins.

    ``without_margin`` is the blend that only just meets the wishes, None if even that cannot be
    had: then ``answer`` explains the wishes themselves. Otherwise it explains ``aims_pct``, the
    aims that were beyond reach. They come from the cheapest recipes; that no dearer recipe with
    a smaller spread exists was searched for, but is not proved.
    """

    answer: OutOfReach
    without_margin: Solved | None
    aims_pct: Mapping[str, float]


@bounded
def solve_with_margin(
    problem: BlendProblem,
    spreads: Spreads,
    *,
    allowance: Allowance,
    index_floor_pct: float,
    z: float | None = None,
    chance: float | None = None,
) -> MarginSolved | MarginOutOfReach:
    """The cheapest blend found whose minima hold with ``z`` standard deviations to spare.

    Give either ``z`` or ``chance``, the largest chance (a fraction up to 0.5) that any guarantee
    is missed before its allowance. ``index_floor_pct`` is the least that the primary nutrients
    found may be of those guaranteed, percent. Raises ``BadProblem`` for wrong input,
    ``TooLarge``, and ``EngineFailure`` if the margins do not settle.
    """
    _refuse_wrong(spreads, z, chance)
    question = _MarginProblem(
        problem, spreads, z, chance, guaranteed_minima(problem), allowance, index_floor_pct
    )
    plain = solve(problem)
    if isinstance(plain, OutOfReach):
        return MarginOutOfReach(plain, None, question.minima)
    aims, blend = question.minima, plain
    for number in range(1, _ROUNDS + 1):
        wanted = question.needed_aims(blend)
        rising = number > _FREE_ROUNDS
        if rising:
            wanted = {key: max(wanted[key], aims[key]) for key in aims}
        if all(abs(wanted[key] - aims[key]) <= SETTLED_PCT for key in aims):
            return question.answer(blend, aims, plain, rounds=number, is_tight=not rising)
        answer = _aimed(problem, wanted)
        if isinstance(answer, OutOfReach):
            found = _on_the_way_back(question, aims, wanted)
            if found is None:
                return MarginOutOfReach(_explained(problem, wanted, answer), plain, wanted)
            return question.answer(*found, plain, rounds=number, is_tight=False)
        aims, blend = wanted, answer
    raise EngineFailure("The margins did not settle: the recipe keeps jumping. Use a smaller one.")


@dataclass(frozen=True, slots=True)
class _MarginProblem:
    """What stays the same through the rounds."""

    problem: BlendProblem
    spreads: Spreads
    fixed_z: float | None
    chance: float | None
    minima: Mapping[str, float]
    allowance: Allowance
    index_floor_pct: float

    def scatter(self, answer: Solved) -> Scatter:
        """What scatters in a blend made to the problem's fill."""
        batch_lb = mass_lb_for(self.problem.fill, answer.blend.density_lb_per_gal)
        return scatter_of(answer.blend, self.problem.stocks, self.spreads, batch_lb=batch_lb)

    def promised(self, answer: Solved) -> list[str]:
        """Keys of the guarantees: a blend without nitrogen has no share of it to promise."""
        has_n = answer.blend.slow_release_pct is not None
        return [key for key in self.minima if has_n or key != SLOW_RELEASE]

    def z(self, causes: Floats) -> float:
        """Standard deviations to spare: those given, or those that the chance needs here."""
        if self.fixed_z is not None:
            return self.fixed_z
        return standard_deviations_for(self.chance or 0.5, causes @ causes.T)

    def needed_aims(self, answer: Solved) -> dict[str, float]:
        """Guarantee + z sigma of each minimum, at the scatter of this blend."""
        keys = self.promised(answer)
        causes = _causes(self.scatter(answer), keys)
        z = self.z(causes)
        sigmas = dict(zip(keys, np.linalg.norm(causes, axis=1), strict=True))
        return {key: least + z * float(sigmas.get(key, 0.0)) for key, least in self.minima.items()}

    def answer(
        self,
        solved: Solved,
        aims: Mapping[str, float],
        plain: Solved,
        *,
        rounds: int,
        is_tight: bool,
    ) -> MarginSolved:
        """A blend that stands, described."""
        scatter, keys = self.scatter(solved), self.promised(solved)
        causes = _causes(scatter, keys)
        guarantees = _guarantees(
            solved,
            {key: self.minima[key] for key in keys},
            aims,
            dict(zip(keys, np.linalg.norm(causes, axis=1), strict=True)),
            self.allowance,
        )
        spare = np.array([each.expected_pct - each.guarantee_pct for each in guarantees])
        allowed = np.array([each.allowance_pct or 0.0 for each in guarantees])
        return MarginSolved(
            answer=solved,
            guarantees=guarantees,
            chance_any_missed=chance_of_any(spare, causes @ causes.T),
            chance_deficient_any=chance_of_any(spare + allowed, causes @ causes.T),
            chance_index_low=self.chance_index_low(solved, scatter),
            z=self.z(causes),
            margin_cost_per_lb=solved.blend.cost_per_lb - plain.blend.cost_per_lb,
            rounds=rounds,
            is_tight=is_tight,
        )

    def chance_index_low(self, answer: Solved, scatter: Scatter) -> float | None:
        """That the primary nutrients found add up to less than the index of those guaranteed."""
        keys = [key for key in _PRIMARY if key in self.minima]
        if not keys:
            return None
        floor = self.index_floor_pct / 100.0 * sum(self.minima[key] for key in keys)
        found = sum(_held_pct(answer, key) for key in keys)
        sigma = float(np.linalg.norm(_causes(scatter, keys).sum(axis=0)))
        return _chance_below(floor, found, sigma)


def _causes(scatter: Scatter, keys: list[str]) -> Floats:
    """What each cause does to each content, shape (keys, causes)."""
    return np.array([scatter.of(key) for key in keys]) if keys else np.zeros((0, 1))


def _on_the_way_back(
    question: _MarginProblem, reached: Mapping[str, float], beyond: Mapping[str, float]
) -> tuple[Solved, Mapping[str, float]] | None:
    """A blend between aims that can be had and aims that cannot, if one keeps its own margins."""
    for _ in range(_HALVINGS):
        middle = {key: (reached[key] + beyond[key]) / 2.0 for key in reached}
        answer = _aimed(question.problem, middle)
        if isinstance(answer, OutOfReach):
            beyond = middle
            continue
        needed = question.needed_aims(answer)
        if all(_held_pct(answer, key) >= needed[key] - SETTLED_PCT for key in needed):
            return answer, middle
        reached = middle
    return None


def guaranteed_minima(problem: BlendProblem) -> dict[str, float]:
    """The wished minima that are guarantees, percent: the strictest of each key, none of 0."""
    minima: dict[str, float] = {}
    for wish in problem.wishes:
        if wish.min_pct is not None and wish.min_pct > 0:
            minima[wish.nutrient] = max(wish.min_pct, minima.get(wish.nutrient, 0.0))
    slow = problem.slow_release
    if slow is not None and slow.min_pct is not None and slow.min_pct > 0:
        minima[SLOW_RELEASE] = slow.min_pct
    return minima


def _refuse_wrong(spreads: Spreads, z: float | None, chance: float | None) -> None:
    errors = list(spread_errors(spreads))
    if (z is None) == (chance is None):
        errors.append(FieldError("z", "Give either standard deviations or a chance."))
    elif z is not None and not 0 <= z <= _LARGEST_Z:
        errors.append(FieldError("z", f"Must be a number from 0 to {_LARGEST_Z:g}."))
    elif chance is not None and not _NORMAL.cdf(-_LARGEST_Z) <= chance <= 0.5:
        errors.append(FieldError("chance", "Must be a fraction above 0, at most 0.5."))
    if errors:
        raise BadProblem(tuple(errors))


def _held_pct(answer: Solved, key: str) -> float:
    if key == SLOW_RELEASE:
        return answer.blend.slow_release_pct or 0.0
    return answer.blend.analysis.get(key, 0.0)


def raised(problem: BlendProblem, aims: Mapping[str, float]) -> BlendProblem:
    """The problem with its minima raised to the aims, percent by key as in ``MarginOutOfReach``."""
    wishes = tuple(
        replace(wish, min_pct=aims[wish.nutrient]) if _is_guarantee(wish) else wish
        for wish in problem.wishes
    )
    slow = problem.slow_release
    if slow is not None and SLOW_RELEASE in aims:
        slow = replace(slow, min_pct=aims[SLOW_RELEASE])
    return replace(problem, wishes=wishes, slow_release=slow)


def _aimed(problem: BlendProblem, aims: Mapping[str, float]) -> Solved | OutOfReach:
    """The best blend at the aims; without reasons where there is none."""
    if crossed := tuple(_crossed(problem, aims)):
        return OutOfReach(conflict=crossed, reach=(), alternatives=())
    return solve(raised(problem, aims), explain=False)


def _explained(problem: BlendProblem, aims: Mapping[str, float], answer: OutOfReach) -> OutOfReach:
    """Why the aims are out of reach; an aim above its own maximum has said so already."""
    if answer.conflict:
        return answer
    explained = solve(raised(problem, aims))
    return explained if isinstance(explained, OutOfReach) else answer


def _is_guarantee(wish: NutrientWish) -> bool:
    return wish.min_pct is not None and wish.min_pct > 0


def _crossed(problem: BlendProblem, aims: Mapping[str, float]) -> list[WishId]:
    """Aims above a maximum: a blend cannot aim there, so the solver is not asked."""
    limits: list[tuple[str, float | None, int | None]] = [
        (wish.nutrient, wish.max_pct, index) for index, wish in enumerate(problem.wishes)
    ]
    if problem.slow_release is not None:
        limits.append((SLOW_RELEASE, problem.slow_release.max_pct, 0))
    return [
        WishId(WishKind.AIM, Side.LEAST, key, index)
        for key, max_pct, index in (*limits, *((key, 100.0, None) for key in aims))
        if max_pct is not None and key in aims and aims[key] > max_pct
    ]


def _guarantees(
    answer: Solved,
    minima: Mapping[str, float],
    aims: Mapping[str, float],
    sigmas: Mapping[str, float],
    allowance: Allowance,
) -> tuple[GuaranteeMargin, ...]:
    found = []
    for key, guarantee_pct in minima.items():
        expected_pct, sigma_pct = _held_pct(answer, key), float(sigmas[key])
        allowed_pct = allowance(key, guarantee_pct)
        if allowed_pct is not None and not (math.isfinite(allowed_pct) and allowed_pct >= 0):
            raise BadProblem((FieldError(f"allowance.{key}", "Must be a number, 0 or more."),))
        found.append(
            GuaranteeMargin(
                key=key,
                guarantee_pct=guarantee_pct,
                aim_pct=aims[key],
                expected_pct=expected_pct,
                sigma_pct=sigma_pct,
                allowance_pct=allowed_pct,
                chance_below_guarantee=_chance_below(guarantee_pct, expected_pct, sigma_pct),
                chance_deficient=_chance_below(
                    guarantee_pct - (allowed_pct or 0.0), expected_pct, sigma_pct
                ),
            )
        )
    return tuple(found)


def _chance_below(limit_pct: float, expected_pct: float, sigma_pct: float) -> float:
    short_pct = expected_pct - limit_pct
    if sigma_pct <= 0:
        return 0.0 if short_pct >= -SETTLED_PCT else 1.0
    return _NORMAL.cdf(-short_pct / sigma_pct)
