"""What a blend that was tried came to when it was kept; nothing of the house in it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot
from orders.frozen.line_price import RecipeShare


@dataclass(frozen=True, slots=True)
class TriedResult(Snapshot):
    """One result of the strip by the names of its subject and standing, and its sentence then."""

    subject: str
    standing: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedFigures(Snapshot):
    """Prices are dollars of that minute; ``price_per_package`` is None in bulk.

    ``feeding_days`` is the usual pace in ``season``; None when it feeds beyond the outlook.
    """

    grade: str
    slow_release_pct: float | None
    price_per_gal: Decimal
    price_per_package: Decimal | None
    total: Decimal
    n_rate_lb_per_1000sqft: float | None
    price_per_1000sqft: Decimal | None
    season: str
    feeding_days: int | None
    recipe: tuple[RecipeShare, ...]
    #: Empty in what was kept before there was one.
    strip: tuple[TriedResult, ...] = ()
