"""The charging screen of one batch: what to weigh now, what is in the tank, what is off."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from blendshop.accounts.models import User
from blendshop.roles import SEES_COST, has_role
from formulas.engine.composition import guarantee_name, in_label_order
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant.as_made import AsMade
from formulas.engine.plant.as_made_maxima import MaximumVerdict
from orders.models import Batch
from orders.planning.recipe_review import unreviewed_recipe, why_not_begun
from orders.planning.tank_heel import moved_since_planned
from orders.production.actions.charging import CHARGERS
from orders.production.as_made import MAXIMUM_WORDS, VERDICT_WORDS, as_made, when_finished
from orders.production.corrections import proposal
from orders.production.new_targets import lots_keep
from orders.production.screen_state import offered_lots, screen_state
from orders.production.sold_as_it_stands import as_it_stands
from orders.production.step_rows import step_rows
from orders.production.steps import Step, batch_steps, charged_lb, current_step, not_charged
from orders.scales.standing import ScaleStanding, cautions
from orders.tanks.contents import next_change, not_free
from orders.tanks.mixing import under

#: States in which the screen weighs; in all others it only shows.
WEIGHS: Final = (Batch.Status.PLANNED, Batch.Status.CHARGING)


def charging_page(
    batch: Batch, user: User, today: date, *, wanted_step: int | None = None
) -> dict[str, Any]:
    """Everything the charging screen prints; costs only for roles that see cost."""
    steps = batch_steps(batch)
    rows = step_rows(batch, steps, today)
    not_begun = why_not_begun(batch)
    weighs = batch.status in WEIGHS and has_role(user, *CHARGERS) and not not_begun
    current = _wanted(steps, wanted_step) or current_step(steps)
    current_row = next((row for row in rows if row.step is current), None)
    total = charged_lb(steps)
    made = as_made(batch, steps)
    scales = scale_cautions(batch, steps, today)
    return {
        "batch": batch,
        "plan": batch.load_plan,
        "rows": rows,
        "current": current_row if weighs else None,
        "weighs": weighs,
        "not_begun": not_begun,
        "unreviewed": unreviewed_recipe(batch),
        "may_charge": has_role(user, *CHARGERS),
        "seen_lb": str(current.charged_lb) if current else "",
        "is_complete": not not_charged(steps),
        "total": total,
        "stop_at": total + current.left_lb if current else total,
        "as_made": made_rows(made),
        "heel": under(batch),
        "finished": made_rows(when_finished(batch, steps)) if weighs else None,
        "proposal": as_it_stands(batch)
        if batch.status == Batch.Status.RELEASED
        else proposal(batch, steps, today),
        "change": next_change(batch) if batch.status == Batch.Status.PLANNED else None,
        "moved_since_planned": moved_since_planned(batch),
        "not_free": (not_free(batch.tank, batch) if batch.status == Batch.Status.PLANNED else ""),
        "sees_cost": has_role(user, *SEES_COST),
        "scales": scales,
        "is_scale_stopped": current is not None
        and any(each.stops and each.kind is current.figures.scale for each in scales),
        "key": fresh_key(),
        "screen": screen_state(
            batch,
            user,
            rows,
            made,
            lots_keep(batch, steps, {row.number: row.lots for row in rows}, today)
            if weighs
            else {},
            today,
        ),
        "screen_lots": offered_lots(current_row) if current_row else [],
    }


def scale_cautions(batch: Batch, steps: Sequence[Step], today: date) -> list[ScaleStanding]:
    """Scales that what is still to come is weighed on and that failed or are due."""
    if batch.status not in WEIGHS:
        return []
    return cautions(batch.tank, {each.figures.scale for each in steps if each.left_lb > 0}, today)


def fresh_key() -> str:
    """A key for a form that is about to be shown."""
    return uuid.uuid4().hex


def _wanted(steps: Sequence[Step], number: int | None) -> Step | None:
    return next((step for step in steps if step.number == number), None)


def made_rows(made: AsMade | None) -> dict[str, Any] | None:
    """The analysis, each guarantee and each maximum with its verdict in words."""
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
        "maxima": [
            {
                "name": guarantee_name(check.key),
                "check": check,
                "words": MAXIMUM_WORDS[check.verdict],
                "tone": "good" if check.verdict is MaximumVerdict.MEETS else "over",
            }
            for check in made.maxima
        ],
        "holds": made.keeps_all,
    }


_TONES: Final[Mapping[Verdict, str]] = {
    Verdict.MEETS: "good",
    Verdict.WITHIN_ALLOWANCE: "under",
    Verdict.DEFICIENT: "over",
}
