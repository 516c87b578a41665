"""The charging screen of one batch: what to weigh now, what is in the tank, what is off."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from blendshop.accounts.models import User
from blendshop.figures.readers import reader
from blendshop.figures.writing import step_places
from blendshop.roles import SEES_COST, has_role
from formulas.engine.composition import guarantee_name, in_label_order
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant.as_made import AsMade
from formulas.models import BaseStock
from orders.frozen.load_plan import StockSafety
from orders.inventory.levels import suggested_lots
from orders.models import Batch, StockLot
from orders.planning.tank_heel import moved_since_planned
from orders.production.actions.charging import CHARGERS
from orders.production.as_made import VERDICT_WORDS, as_made, when_finished
from orders.production.corrections import proposal
from orders.production.steps import (
    TOLERANCE_BASIS,
    Step,
    WeighingStatus,
    batch_steps,
    charged_lb,
    current_step,
    not_charged,
)
from orders.tanks.contents import next_change, not_free
from orders.tanks.mixing import under

#: States in which the screen weighs; in all others it only shows.
WEIGHS: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)


@dataclass(frozen=True, slots=True)
class StepRow:
    """One weighing as the screen shows it."""

    step: Step
    weight: str
    charged: str
    words: str
    wear: str
    lots: tuple[StockLot, ...]

    @property
    def number(self) -> int:
        return self.step.number


def charging_page(
    batch: Batch, user: User, today: date, *, wanted_step: int | None = None
) -> dict[str, Any]:
    """Everything the charging screen prints; costs only for roles that see cost."""
    steps = batch_steps(batch)
    rows = _rows(batch, steps, today)
    weighs = batch.status in WEIGHS and has_role(user, *CHARGERS)
    current = _wanted(steps, wanted_step) or current_step(steps)
    total = charged_lb(steps)
    return {
        "batch": batch,
        "plan": batch.load_plan,
        "rows": rows,
        "current": next((row for row in rows if row.step is current), None) if weighs else None,
        "weighs": weighs,
        "may_charge": has_role(user, *CHARGERS),
        "is_complete": not not_charged(steps),
        "total": total,
        "stop_at": total + current.left_lb if current else total,
        "as_made": made_rows(as_made(batch, steps)),
        "heel": under(batch),
        "finished": made_rows(when_finished(batch, steps)) if weighs else None,
        "proposal": None
        if batch.status == Batch.Status.RELEASED
        else proposal(batch, steps, today),
        "change": next_change(batch) if batch.status == Batch.Status.PLANNED else None,
        "moved_since_planned": moved_since_planned(batch),
        "not_free": (not_free(batch.tank, batch) if batch.status == Batch.Status.PLANNED else ""),
        "sees_cost": has_role(user, *SEES_COST),
        "tolerance_basis": TOLERANCE_BASIS,
        "key": fresh_key(),
        "screen": _screen(batch, rows),
        "screen_lots": _lots(next(row for row in rows if row.step is current)) if current else [],
    }


def fresh_key() -> str:
    """A key for a form that is about to be shown."""
    return uuid.uuid4().hex


def step_words(step: Step) -> str:
    """How a weighing stands, in words that need no colour."""
    off = reader().every_digit(abs(step.off_lb))
    return {
        WeighingStatus.WAITING: "not weighed yet",
        WeighingStatus.UNDER: f"{off} lb under",
        WeighingStatus.ON_TARGET: "on target",
        WeighingStatus.OVER: f"{off} lb over",
    }[step.status]


def _rows(batch: Batch, steps: Sequence[Step], today: date) -> list[StepRow]:
    wear = {stock.code: _wear(stock) for stock in batch.load_plan.safety}
    ids = dict(
        BaseStock.objects.filter(code__in={step.code for step in steps}).values_list("code", "pk")
    )
    lots = suggested_lots(list(ids.values()), today)
    return [
        StepRow(
            step=step,
            weight=_at_scale(step.target_lb, step),
            charged=_at_scale(step.charged_lb, step),
            words=step_words(step),
            wear=wear.get(step.code, _SDS_DECIDES),
            lots=tuple(lots[ids[step.code]]),
        )
        for step in steps
    ]


def _wear(stock: StockSafety) -> str:
    """Protection and hazards frozen in the plan, and who decides."""
    parts = [
        f"Wear: {'; '.join(stock.ppe)}." if stock.ppe else "",
        f"Hazards: {'; '.join(stock.hazards)}." if stock.hazards else "",
        _SDS_DECIDES,
    ]
    return " ".join(part for part in parts if part)


_SDS_DECIDES: Final = "Read the stock's SDS before opening it; the SDS decides."


def _at_scale(mass: Decimal, step: Step) -> str:
    """At least the places of the scale; a charge may carry more and shows them."""
    if mass == round(mass, step_places(step.scale_step_lb)):
        return reader().scale_weight(mass, step.scale_step_lb)
    return reader().every_digit(mass)


def _wanted(steps: Sequence[Step], number: int | None) -> Step | None:
    return next((step for step in steps if step.number == number), None)


def made_rows(made: AsMade | None) -> dict[str, Any] | None:
    """The analysis and each guarantee with its verdict in words."""
    if made is None:
        return None
    return {
        "made": made,
        "analysis": {k: v for k, v in in_label_order(made.analysis).items() if v > 0},
        "guarantees": [
            {
                "name": guarantee_name(check.key),
                "check": check,
                "words": VERDICT_WORDS[check.verdict],
                "tone": _TONES[check.verdict],
            }
            for check in made.guarantees
        ],
        "holds": all(check.verdict is Verdict.MEETS for check in made.guarantees),
    }


_TONES: Final[Mapping[Verdict, str]] = {
    Verdict.MEETS: "good",
    Verdict.WITHIN_ALLOWANCE: "under",
    Verdict.DEFICIENT: "over",
}


def _screen(batch: Batch, rows: Sequence[StepRow]) -> dict[str, Any]:
    """What the page's script needs to go on weighing while the network is away."""
    return {
        "batch": batch.number,
        "status": batch.status,
        "status_words": batch.get_status_display(),
        "steps": [
            {
                "number": row.number,
                "name": row.step.name,
                "code": row.step.code,
                "instruction": row.step.instruction,
                "wear": row.wear,
                "target": str(row.step.target_lb),
                "charged": str(row.step.charged_lb),
                "tolerance": str(row.step.tolerance_lb),
                "needs_lot": not row.step.is_water or bool(row.lots),
                "lots": _lots(row),
            }
            for row in rows
        ],
    }


_LOTS_SHOWN: Final = 3


def _lots(row: StepRow) -> list[dict[str, str]]:
    """The lots to take first, as the screen names them."""
    return [{"code": lot.code, "text": lot_words(lot)} for lot in row.lots[:_LOTS_SHOWN]]


def lot_words(lot: StockLot) -> str:
    """``L-2026-0003, 12,400 lb, last day March 2, 2027, tank 4``."""
    parts = [lot.code, reader().weighed(lot.on_hand_lb)]
    if lot.expires_on:
        parts.append(f"last day {reader().date(lot.expires_on)}")
    if lot.location:
        parts.append(lot.location)
    return ", ".join(parts)
