"""An open quote at today's costs, step by step beside what it was priced at. Staff only."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from orders.pricing import StepCode


@dataclass(frozen=True, slots=True)
class StepThenNow(Snapshot):
    """One step of a price, dollars; the margin is what the quoted price leaves."""

    code: StepCode
    then: Decimal
    now: Decimal


@dataclass(frozen=True, slots=True)
class LineThenNow(Snapshot):
    """One line. ``below_floor`` is the sentence, None while its margin is kept."""

    position: int
    steps: tuple[StepThenNow, ...]
    margin_pct_then: Decimal | None
    margin_pct_now: Decimal | None
    below_floor: str | None


@dataclass(frozen=True, slots=True)
class QuoteThenNow(Snapshot):
    """All lines of a quote."""

    lines: tuple[LineThenNow, ...]
