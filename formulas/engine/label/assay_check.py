"""Judge a laboratory's findings against the guarantees, nutrient by nutrient and overall.

A screening aid: sampling, method and the state's own text decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from formulas.engine.composition import WISH_KEYS
from formulas.engine.label.allowances import AllowanceRule, Offset, allowance_pct
from formulas.engine.label.rules import PRIMARY
from formulas.engine.problem import BadProblem, FieldError

#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9


class Verdict(StrEnum):
    """Of one nutrient, or (without the middle one) of the index."""

    MEETS = "meets"
    WITHIN_ALLOWANCE = "within_allowance"
    DEFICIENT = "deficient"


@dataclass(frozen=True, slots=True)
class NutrientCheck:
    """One guarantee; ``floor`` is guaranteed minus allowance, the guarantee where none is given.

    ``found`` is None only for a guarantee of zero. ``verified`` tells whether the allowance was
    read in the cited text.
    """

    key: str
    guaranteed: float
    found: float | None
    allowance: float | None
    floor: float
    verdict: Verdict
    source: str
    verified: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class AssayCheck:
    """All nutrients and the overall index; index and verdict are None without a primary."""

    nutrients: tuple[NutrientCheck, ...]
    index_value_pct: float | None
    index_floor_pct: float
    index_verdict: Verdict | None
    index_source: str
    rule: str

    @property
    def is_deficient(self) -> bool:
        """Whether any nutrient or the index falls short."""
        verdicts = [self.index_verdict, *(nutrient.verdict for nutrient in self.nutrients)]
        return Verdict.DEFICIENT in verdicts


def check_assay(
    guarantees: Mapping[str, float], found: Mapping[str, float], rule: AllowanceRule
) -> AssayCheck:
    """Judge ``found`` against ``guarantees``; ``BadProblem`` names every wrong field.

    Every guarantee above zero needs a finding: what was not tested has not passed.
    """
    errors = tuple(_errors(guarantees, found))
    if errors:
        raise BadProblem(errors)
    keys = [key for key in WISH_KEYS if key in guarantees]
    checks = [_check(key, guarantees[key], found.get(key), rule) for key in keys]
    index = _index_pct(guarantees, found, rule.index_weights)
    return AssayCheck(
        nutrients=tuple(_offset(checks, rule)),
        index_value_pct=index,
        index_floor_pct=rule.index_floor_pct,
        index_verdict=None if index is None else _index_verdict(index, rule.index_floor_pct),
        index_source=rule.index_source,
        rule=rule.code,
    )


def _check(key: str, guaranteed: float, found: float | None, rule: AllowanceRule) -> NutrientCheck:
    published = rule.allowances.get(key)
    allowance = allowance_pct(key, guaranteed, rule)
    floor = guaranteed - (allowance or 0.0)
    if found is None or found >= guaranteed - _NOISE_PCT:
        verdict = Verdict.MEETS
    elif found >= floor - _NOISE_PCT:
        verdict = Verdict.WITHIN_ALLOWANCE
    else:
        verdict = Verdict.DEFICIENT
    if allowance is None or published is None:
        words = "" if guaranteed <= 0 else "No published allowance; the guarantee is the floor."
        return NutrientCheck(
            key, guaranteed, found, None, floor, verdict, "", verified=False, note=words
        )
    return NutrientCheck(
        key,
        guaranteed,
        found,
        allowance,
        floor,
        verdict,
        published.source,
        verified=published.verified,
        note=published.note,
    )


def _offset(checks: list[NutrientCheck], rule: AllowanceRule) -> Iterable[NutrientCheck]:
    """Where one primary nutrient alone is short, the others' overage may make up for it."""
    primaries = [check for check in checks if check.key in PRIMARY and check.found is not None]
    short = [check for check in primaries if check.verdict is not Verdict.MEETS]
    surplus = sum((check.found or 0.0) - check.guaranteed for check in primaries)
    for check in checks:
        missing = check.guaranteed - (check.found or 0.0)
        if (
            rule.offset is not None
            and short == [check]
            and surplus >= -_NOISE_PCT
            and check.verdict is Verdict.DEFICIENT
            and missing <= _most_offset(rule.offset, check.guaranteed) + _NOISE_PCT
        ):
            yield replace(
                check,
                verdict=Verdict.WITHIN_ALLOWANCE,
                note="Made up for by the overage of the other primary nutrients.",
            )
        else:
            yield check


def _most_offset(offset: Offset, guaranteed: float) -> float:
    return min(offset.share_pct / 100 * guaranteed, offset.most_units)


def _index_pct(
    guarantees: Mapping[str, float], found: Mapping[str, float], weights: Mapping[str, float]
) -> float | None:
    """Found over guaranteed, percent, of the primary nutrients that are guaranteed."""
    keys = [key for key in PRIMARY if guarantees.get(key, 0.0) > 0]
    guaranteed = sum(weights[key] * guarantees[key] for key in keys)
    if guaranteed <= 0:
        return None
    return 100 * sum(weights[key] * found[key] for key in keys) / guaranteed


def _index_verdict(index_pct: float, floor_pct: float) -> Verdict:
    return Verdict.MEETS if index_pct >= floor_pct - _NOISE_PCT else Verdict.DEFICIENT


def _errors(guarantees: Mapping[str, float], found: Mapping[str, float]) -> Iterable[FieldError]:
    if not guarantees:
        yield FieldError("guarantees", "At least one guarantee is needed.")
    for name, figures in (("guarantees", guarantees), ("found", found)):
        for key, pct in figures.items():
            if key not in WISH_KEYS:
                yield FieldError(f"{name}.{key}", f"{key} is not a known nutrient or ingredient.")
            elif not (math.isfinite(pct) and 0 <= pct <= 100):
                yield FieldError(f"{name}.{key}", "Must be a percentage, 0 to 100.")
    for key, pct in guarantees.items():
        if key in WISH_KEYS and pct > 0 and key not in found:
            yield FieldError(f"found.{key}", f"{key} is guaranteed; say what was found, 0 if none.")
