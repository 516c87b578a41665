"""What was charged for a batch, stock by stock, as its tank's ledger keeps it."""

from __future__ import annotations

from typing import Final

from orders.frozen.load_plan import FrozenStock
from orders.models import Batch
from orders.production.as_made import lot_figures
from orders.production.steps import batch_steps
from orders.tanks.heel import BY_PLAN
from orders.tanks.mixing import Portion, planned_portions

AS_CHARGED: Final = "as charged"


def made_portions(batch: Batch) -> tuple[list[Portion], str]:
    """Each charge with its lot's certificate, and by what the amounts go.

    The plan's own weights for a batch that was weighed from the printed ticket.
    """
    portions = []
    for step in batch_steps(batch):
        for charge in step.charges:
            lot = lot_figures(step.figures, charge.lot)
            figures = FrozenStock.extending(
                step.figures, analysis=lot.analysis, density_lb_per_gal=lot.density_lb_per_gal
            )
            portions.append(Portion(figures, float(charge.mass_lb)))
    return (portions, AS_CHARGED) if portions else (planned_portions(batch), BY_PLAN)
