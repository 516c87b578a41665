"""A verification of a scale as it was written down: test loads, readings, what was allowed."""

from __future__ import annotations

from dataclasses import dataclass

from blendshop.snapshot import Snapshot
from formulas.engine.plant.scale_tolerance import ScaleClass


@dataclass(frozen=True, slots=True)
class LoadTested(Snapshot):
    """A known load on the scale, what the scale read and how far it might be off; lb."""

    load_lb: float
    reading_lb: float
    tolerance_lb: float
    is_within: bool

    @property
    def off_lb(self) -> float:
        return self.reading_lb - self.load_lb


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleTest(Snapshot):
    """``ScaleVerification.test``. ``source`` says where the tolerance was read, with its mark."""

    scale_class: ScaleClass
    division_lb: float
    is_acceptance: bool
    loads: tuple[LoadTested, ...]
    source: str

    @property
    def passed(self) -> bool:
        return all(load.is_within for load in self.loads)

    @property
    def tested_to_lb(self) -> float:
        """The largest test load: above it the scale was not looked at."""
        return max(load.load_lb for load in self.loads)
