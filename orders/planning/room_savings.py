"""What weighing more finely would save of a load: the price of its room, and how to need less."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

from formulas.engine.plant.load import FineScale, LoadQuestion, LoadScale, PlannedLoad
from formulas.engine.plant.with_room import plan_if_room
from formulas.engine_bridge import unit_cost
from orders.frozen.load_plan import RoomSaving

#: The small scale a plant without one is told about: a tenth of the main scale's division, up to
#: this weight (our example, no source).
_SMALL_SCALE_LB: Final = 100.0
_NOTHING: Final = Decimal(0)


def room_savings(question: LoadQuestion, planned: PlannedLoad) -> tuple[RoomSaving, ...]:
    """What half the tolerance, and a small scale where there is none, would cost less per gallon.

    Only what saves something, in four places of a dollar.
    """
    half = question.tolerance_pct / 2
    found = [
        RoomSaving(
            tolerance_pct=half,
            per_gal=_saved(replace(question, tolerance_pct=half), planned),
        )
    ]
    main = question.scale.step_lb
    if question.scale.fine is None and main is not None:
        fine = FineScale(main / 10, _SMALL_SCALE_LB)
        finer = replace(question, scale=LoadScale(main, fine))
        found.append(RoomSaving(small_scale_lb=fine.step_lb, per_gal=_saved(finer, planned)))
    return tuple(saving for saving in found if saving.per_gal > _NOTHING)


def _saved(question: LoadQuestion, planned: PlannedLoad) -> Decimal:
    finer = plan_if_room(question)
    if finer is None:
        return _NOTHING
    return unit_cost(planned.cost / planned.volume_gal) - unit_cost(finer.cost / finer.volume_gal)
