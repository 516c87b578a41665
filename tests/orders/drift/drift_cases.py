"""Deliveries with certificates, put in as rows; every figure is invented."""

import itertools
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Final

from formulas.models import BaseStock
from orders.models import LotFigure, StockLot
from tests.factories import today

TERMINAL: Final = "Northside Terminal (invented)"
DEPOT: Final = "Riverside Depot (invented)"
#: Twelve contents of 24 % on average, and the same with the newest far out.
STEADY: Final = (24.1, 23.9, 24.0, 24.2, 23.8, 24.0, 24.1, 23.9, 24.0, 24.1, 23.9, 24.0)
POINT_OUT: Final = (*STEADY[:-1], 22.0)
#: The newest eight on one side of the mean, none of them far from it.
RUN: Final = (24.4, 24.2, 24.4, 24.2, 24.4, 24.2, 23.9, 24.1, 23.9, 24.1, 23.9, 24.1, 23.9, 24.1)
_numbers = itertools.count(1)


def put_in(
    code: str,
    certificates: Sequence[Mapping[str, float]],
    *,
    supplier: str = TERMINAL,
    density: float | None = None,
    split_from: StockLot | None = None,
) -> list[StockLot]:
    """Deliveries a week apart, the last one today, each with its certificate."""
    stock = BaseStock.objects.get(code=code)
    count = len(certificates)
    lots = StockLot.objects.bulk_create(
        StockLot(
            code=f"LT-{next(_numbers):05}",
            stock=stock,
            supplier=supplier,
            received_lb=1000,
            received_on=today() - timedelta(days=7 * (count - place)),
            state=StockLot.State.EXHAUSTED,
            density_lb_per_gal=density,
            density_source="CoA, invented" if density else "",
            split_from=split_from,
        )
        for place in range(1, count + 1)
    )
    LotFigure.objects.bulk_create(
        LotFigure(lot=lot, key=key, pct=pct, source="CoA, invented")
        for lot, figures in zip(lots, certificates, strict=True)
        for key, pct in figures.items()
    )
    return lots


def potash(values: Sequence[float]) -> list[dict[str, float]]:
    return [{"K2O": value} for value in values]


def nitrogen(values: Sequence[float]) -> list[dict[str, float]]:
    """Certificates of the triazone stock: its two forms, total as given."""
    return [{"N.urea": 0.28 * value, "N.slow": 0.72 * value} for value in values]
