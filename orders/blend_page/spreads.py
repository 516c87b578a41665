"""The plant's spreads as ``margin`` of the formulation contract takes them."""

from __future__ import annotations

from formulas.answers.wish import AssaySpread, MarginWish, ScaleSpread
from orders.models import PlantSpread, StockSpread


def margin_of(chance: float) -> MarginWish:
    """``margin`` for the largest chance (a fraction) of missing a guarantee; two queries."""
    plant = PlantSpread.load()
    return MarginWish(
        chance,
        usual_assay=AssaySpread(plant.usual_rsd_pct),
        assay={
            row.stock.code: assay_spread(row.strength_rsd_pct, row.total_n_rsd_pct)
            for row in StockSpread.objects.select_related("stock")
        },
        scale=ScaleSpread(plant.scale_absolute_lb, plant.scale_relative_pct),
    )


def assay_spread(strength_rsd_pct: float, total_n_rsd_pct: float) -> AssaySpread:
    """The figures of a ``StockSpread`` as the contract says them."""
    content = {"N": total_n_rsd_pct} if total_n_rsd_pct else {}
    return AssaySpread(strength_rsd_pct, content)


def spread_sources() -> tuple[str, ...]:
    """Where the spreads come from, each source once."""
    named = StockSpread.objects.values_list("source", flat=True)
    return tuple(dict.fromkeys((PlantSpread.load().source, *named)))
