"""What a weighing freezes of its stock, so that papers need no catalogue of later days."""

from __future__ import annotations

from typing import Final

from formulas.engine.mark import Mark
from formulas.engine.problem import Stock
from formulas.engine_bridge import cited
from formulas.models import BaseStock
from orders.frozen.load_plan import FrozenStock, StockMetal

ACID_INSTRUCTION: Final = (
    f"Acid: pour it slowly into the agitated tank, never water into acid ({Mark.FROM_MEMORY})."
)


def step_figures(row: BaseStock, stock: Stock) -> FrozenStock:
    """Everything of a step but its weight; ``stock`` has the scale step that is weighed in."""
    return FrozenStock(
        code=stock.code,
        name=stock.name,
        derived_from=row.derived_from,
        other_origin=row.other_origin,
        metals=_metals(row),
        scale_step_lb=stock.scale_step_lb,
        density_lb_per_gal=stock.density_lb_per_gal,
        analysis=dict(stock.analysis),
        traits=tuple(sorted(stock.traits)),
        solutes=dict(stock.solutes),
        instruction=ACID_INSTRUCTION if "acid" in stock.traits else "",
    )


def _metals(row: BaseStock) -> dict[str, StockMetal]:
    """Ppm by metal with where the figure stands; a metal nobody measured is left out."""
    return {
        figure.metal: StockMetal(figure.ppm, cited(figure.source, figure.mark), figure.measured_on)
        for figure in row.metal_figures.all()
    }
