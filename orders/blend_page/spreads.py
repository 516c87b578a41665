"""The plant's spreads as ``margin`` of the formulation contract takes them."""

from __future__ import annotations

from typing import Any

from orders.models import PlantSpread, StockSpread


def margin_of(chance: float) -> dict[str, Any]:
    """``margin`` for the largest chance (a fraction) of missing a guarantee; two queries."""
    plant = PlantSpread.load()
    margin: dict[str, Any] = {
        "chance": chance,
        "usual_assay": {"strength_rsd_pct": plant.usual_rsd_pct},
        "scale": {
            "absolute_lb": plant.scale_absolute_lb,
            "relative_pct": plant.scale_relative_pct,
        },
    }
    assay = {row.stock.code: _assay(row) for row in StockSpread.objects.select_related("stock")}
    return margin | ({"assay": assay} if assay else {})


def _assay(row: StockSpread) -> dict[str, Any]:
    assay: dict[str, Any] = {"strength_rsd_pct": row.strength_rsd_pct}
    if row.total_n_rsd_pct:
        assay["content_rsd_pct"] = {"N": row.total_n_rsd_pct}
    return assay


def spread_sources() -> tuple[str, ...]:
    """Where the spreads come from, each source once."""
    named = StockSpread.objects.values_list("source", flat=True)
    return tuple(dict.fromkeys((PlantSpread.load().source, *named)))
