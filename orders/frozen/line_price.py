"""The price of a quote's or order's line as it was frozen, with the blend it was worked out for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from blendshop.snapshot import Snapshot, stored_as
from orders.frozen.quoted_load import QuotedLoad
from orders.pricing import PriceBreakdown


@dataclass(frozen=True, slots=True)
class RecipeShare(Snapshot):
    """A stock's share of the recipe, percent by weight."""

    code: str
    name: str
    pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedBlend(Snapshot):
    """The blend of that minute; ``analysis`` in percent by weight."""

    name: str = field(metadata=stored_as("blend"))
    revision_number: int = field(metadata=stored_as("revision"))
    grade: str
    recipe: tuple[RecipeShare, ...]
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    density_lb_per_gal: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePrice(PriceBreakdown):
    """``QuoteLine.price`` and ``OrderLine.price``.

    ``load`` is what its material was figured from; None in prices of before there was one.
    """

    OMITTED = frozenset({"load", "usual_total", "floor_total", "freight_tariff"})

    blend: PricedBlend = field(metadata=stored_as("frozen"))
    load: QuotedLoad | None = None
