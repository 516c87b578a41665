"""How far a recipe is from what has been tested in a jar.

Distance is total variation: half the sum of the differences of all shares, in percentage points,
that is how much of the blend would have to be exchanged. 60/40 against 55/45 is 5.

A recipe counts as tested if some jar that stayed clear (1) held every stock of the recipe, (2) is
no further than ``radius_pct`` away, (3) stood at least as many days, (4) at or below the promised
temperature, and if no failed jar within the radius is as near or nearer. Not taken as tested:
the convex hull of clear jars. Between a clear jar of A with B and a clear jar of A with C lies a
mixture in which B and C meet for the first time, so a hull would vouch for pairs nobody has seen.
The radius is common practice, no source: the plant sets its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from formulas.engine.mark import Mark
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.validate import SUM_TOLERANCE_PCT

USUAL_RADIUS_PCT: Final = 2.0
RADIUS_SOURCE: Final = Mark.COMMON_PRACTICE.value
#: Shares below this (percent) do not count as used.
_TRACE_PCT: Final = 1e-7
_NOISE_PCT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class RegisteredJar:
    """A finished jar test: shares in percent by weight, how long, at what temperature.

    ``stayed_clear`` is its outcome; a jar that clouded, layered or threw crystals did not.
    """

    code: str
    shares: Mapping[str, float]
    days: float
    temperature_f: float
    stayed_clear: bool


@dataclass(frozen=True, slots=True)
class NearJar:
    """A jar beside the recipe. ``difference_pct``: recipe minus jar, largest first, noise left out.

    ``untested`` are stocks of the recipe that the jar did not hold; ``short_days`` and
    ``too_warm_f`` are how much it falls short of what was promised (0: it does not).
    """

    jar: RegisteredJar
    distance_pct: float
    difference_pct: Mapping[str, float]
    untested: tuple[str, ...]
    short_days: float
    too_warm_f: float


@dataclass(frozen=True, slots=True)
class JarVerdict:
    """Whether the recipe lies inside what was tested, by which jar, and the nearest ones."""

    is_tested: bool
    by: RegisteredJar | None
    nearest: tuple[NearJar, ...]
    radius_pct: float
    words: str


def distance_pct(first: Mapping[str, float], second: Mapping[str, float]) -> float:
    """Half the sum of the differences of all shares, percentage points.

    >>> distance_pct({"A": 60.0, "B": 40.0}, {"A": 55.0, "B": 40.0, "C": 5.0})
    5.0
    """
    codes = sorted({*first, *second})
    return sum(abs(first.get(code, 0.0) - second.get(code, 0.0)) for code in codes) / 2.0


def jar_verdict(
    recipe: Mapping[str, float],
    jars: Sequence[RegisteredJar],
    *,
    days: float,
    temperature_f: float,
    radius_pct: float = USUAL_RADIUS_PCT,
    most: int = 3,
) -> JarVerdict:
    """Whether a recipe kept ``days`` down to ``temperature_f`` lies inside what was tested.

    The ``most`` nearest jars come with it, whatever their outcome, nearest first. A clear jar
    shows physical compatibility, never that a mix is chemically safe. Raises ``BadProblem``.
    """
    errors = tuple(_errors(recipe, jars, days, temperature_f, radius_pct))
    if errors:
        raise BadProblem(errors)
    near = sorted(
        (_near(recipe, jar, days, temperature_f) for jar in jars),
        key=lambda each: (each.distance_pct, each.jar.code),
    )
    within = [each for each in near if each.distance_pct <= radius_pct + _NOISE_PCT]
    clear = [each for each in within if each.jar.stayed_clear and _speaks_for(each)]
    # A failure is not explained away, whatever its days and temperature were.
    failed = [each for each in within if not each.jar.stayed_clear]
    best = clear[0] if clear else None
    spoilt = next(
        (
            each
            for each in failed
            if best is None or each.distance_pct <= best.distance_pct + _NOISE_PCT
        ),
        None,
    )
    is_tested = best is not None and spoilt is None
    return JarVerdict(
        is_tested=is_tested,
        by=best.jar if best is not None and is_tested else None,
        nearest=tuple(near[:most]),
        radius_pct=radius_pct,
        words=_words(best, spoilt, near, radius_pct),
    )


def _near(
    recipe: Mapping[str, float], jar: RegisteredJar, days: float, temperature_f: float
) -> NearJar:
    difference = {
        code: recipe.get(code, 0.0) - jar.shares.get(code, 0.0) for code in {*recipe, *jar.shares}
    }
    return NearJar(
        jar=jar,
        distance_pct=distance_pct(recipe, jar.shares),
        difference_pct={
            code: pct
            for code, pct in sorted(difference.items(), key=lambda item: (-abs(item[1]), item[0]))
            if abs(pct) > _TRACE_PCT
        },
        untested=tuple(
            sorted(
                code
                for code, pct in recipe.items()
                if pct > _TRACE_PCT and jar.shares.get(code, 0.0) <= _TRACE_PCT
            )
        ),
        short_days=max(0.0, days - jar.days),
        too_warm_f=max(0.0, jar.temperature_f - temperature_f),
    )


def _speaks_for(near: NearJar) -> bool:
    return not near.untested and near.short_days == 0 and near.too_warm_f == 0


def _words(
    best: NearJar | None, spoilt: NearJar | None, near: Sequence[NearJar], radius_pct: float
) -> str:
    if spoilt is not None:
        return (
            f"Jar {spoilt.jar.code}, {spoilt.distance_pct:.1f} points away, did not stay clear: "
            "do a jar test of this recipe before the batch."
        )
    if best is not None:
        return (
            f"Inside what was tested: jar {best.jar.code}, {best.distance_pct:.1f} points away, "
            f"stayed clear {best.jar.days:g} days at {best.jar.temperature_f:g} F. A clear jar "
            "does not prove a mix chemically safe."
        )
    if not near:
        return "Nothing like it was tested: do a jar test before the batch."
    first = near[0]
    reasons = []
    if first.distance_pct > radius_pct + _NOISE_PCT:
        reasons.append(f"{first.distance_pct:.1f} points away, more than {radius_pct:g}")
    if first.untested:
        reasons.append(f"without {', '.join(first.untested)}")
    if first.short_days:
        reasons.append(f"{first.short_days:g} days too short")
    if first.too_warm_f:
        reasons.append(f"{first.too_warm_f:g} F too warm")
    return (
        f"Not inside what was tested: the nearest jar, {first.jar.code}, was "
        f"{'; '.join(reasons)}. Do a jar test before the batch."
    )


def _errors(
    recipe: Mapping[str, float],
    jars: Sequence[RegisteredJar],
    days: float,
    temperature_f: float,
    radius_pct: float,
) -> Iterator[FieldError]:
    yield from _share_errors("recipe", recipe)
    for index, jar in enumerate(jars):
        yield from _share_errors(f"jars.{index}.shares", jar.shares)
        if not (math.isfinite(jar.days) and jar.days >= 0 and math.isfinite(jar.temperature_f)):
            yield FieldError(f"jars.{index}", "Days and temperature must be numbers.")
    if not (math.isfinite(days) and days >= 0):
        yield FieldError("days", "Must be a number, 0 or more.")
    if not math.isfinite(temperature_f):
        yield FieldError("temperature_f", "Must be a number.")
    if not 0 <= radius_pct <= 100:
        yield FieldError("radius_pct", "Must be from 0 to 100 points.")


def _share_errors(path: str, shares: Mapping[str, float]) -> Iterator[FieldError]:
    sound = all(math.isfinite(pct) and pct >= 0 for pct in shares.values())
    if not sound or abs(sum(shares.values()) - 100.0) > SUM_TOLERANCE_PCT:
        yield FieldError(path, "The shares must be 0 or more and add up to 100 percent.")
