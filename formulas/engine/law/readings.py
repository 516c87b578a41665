"""Whether water-soluble slow nitrogen counts as slow release: each way a text can be read."""

from __future__ import annotations

from dataclasses import dataclass

from formulas.engine.law.rules import SolubleSlow


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: the slow share it sees, percent of total nitrogen, and its words."""

    slow_pct: float
    words: str


def readings(
    soluble_slow: SolubleSlow, slow_pct: float, insoluble_pct: float
) -> tuple[Reading, ...]:
    """One reading where the text is settled, two where it is not; the wider one first."""
    wide = Reading(slow_pct, "if water-soluble slow nitrogen counts as slow release")
    narrow = Reading(insoluble_pct, "if water-soluble slow nitrogen does not count")
    if soluble_slow is SolubleSlow.COUNTS:
        return (wide,)
    if soluble_slow is SolubleSlow.DOES_NOT_COUNT:
        return (narrow,)
    return (wide, narrow)
