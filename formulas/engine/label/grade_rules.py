"""Whole numbers or fractions in a grade, state by state, as far as their text was read.

A lawn product is a specialty fertilizer in most states, and a specialty fertilizer may print
fractions in most of them. Percentages are always rounded down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from formulas.engine.label.rules import Kind

#: Decimals of a primary guarantee where fractions are allowed.
FRACTION_DECIMALS: Final = 1


@dataclass(frozen=True, slots=True)
class GradeRule:
    """Which kinds may print fractions of a percent; ``below_one``: every kind below 1 %."""

    name: str
    fractions: frozenset[Kind]
    source: str
    below_one: bool = False
    note: str = ""

    def decimals(self, pct: float, kind: Kind) -> int:
        """Decimals a primary guarantee of this content prints."""
        if kind in self.fractions or (self.below_one and pct < 1):
            return FRACTION_DECIMALS
        return 0


_SPECIALTY: Final = frozenset({Kind.SPECIALTY})
_ALL: Final = frozenset(Kind)
_NONE: Final[frozenset[Kind]] = frozenset()

#: What is printed where no state is named.
UNIFORM: Final = GradeRule(
    "Uniform practice",
    _SPECIALTY,
    "Va. Code 3.2-3600; N.Y. Agric. & Mkts. 144(a); R.I.G.L. 2-7-3(7); whole numbers from 1 % "
    "upward: Wis. Adm. Code ATCP 40.08(1)(c), 40.10(5)",
    below_one=True,
)
GRADE_RULES: Final[Mapping[str, GradeRule]] = {
    "ID": GradeRule(
        "Idaho",
        _ALL,
        "Idaho Code 22-607(3)(b)",
        note="Customer formulas: nearest tenth or next lower whole number; here always down.",
    ),
    "IN": GradeRule(
        "Indiana",
        _NONE,
        "IC 15-16-2-31(g)",
        note="The state chemist may allow fractions for specialty fertilizer; none assumed.",
    ),
    "MD": GradeRule(
        "Maryland",
        _ALL,
        "COMAR 15.18.03.01B(7)",
        note="Specialty or mixed-to-order; a custom blend is mixed to order.",
    ),
    "ME": GradeRule("Maine", _SPECIALTY, "01-001 CMR ch. 350 section 1(5)"),
    "NJ": GradeRule(
        "New Jersey",
        _NONE,
        "N.J.S.A. 4:9-15.3(f)",
        note="Fractions only for materials, bone meal and raw materials.",
    ),
    "NY": GradeRule("New York", _SPECIALTY, "N.Y. Agric. & Mkts. 144(a)"),
    "RI": GradeRule("Rhode Island", _SPECIALTY, "R.I.G.L. 2-7-3(7)"),
    "TX": GradeRule(
        "Texas",
        _NONE,
        "Tex. Agric. Code 63.001(9)",
        note="Read in part only: no exception for specialty fertilizer was seen.",
    ),
    "VA": GradeRule("Virginia", _SPECIALTY, "Va. Code 3.2-3600"),
    "WI": GradeRule(
        "Wisconsin",
        _NONE,
        "Wis. Adm. Code ATCP 40.08(1)(c), 40.10(5)",
        below_one=True,
        note="Below 1 % decimals with a zero before the point.",
    ),
}


def grade_rule(jurisdiction: str | None) -> GradeRule:
    """The rule of a state, or the uniform practice; KeyError for a state not in the table."""
    return UNIFORM if jurisdiction is None else GRADE_RULES[jurisdiction]
