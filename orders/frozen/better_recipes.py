"""Recipes that would be cheaper at new costs, beside those that are saved. Staff only."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from blendshop.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class ShareThenNow(Snapshot):
    """One stock's share in both recipes, percent by weight; 0 where it is not in one."""

    code: str
    name: str
    saved_pct: float
    best_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterRecipe(Snapshot):
    """A saved blend whose wish is met cheaper by another recipe; dollars a gallon at the new costs.

    ``shares`` are those that change. ``gal`` is what open quotes and orders want of the blend.
    """

    revision_id: int
    saved_cost_per_gal: Decimal
    best_cost_per_gal: Decimal
    gal: float
    shares: tuple[ShareThenNow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterRecipes(Snapshot):
    """Of the ``asked`` blends with most money at stake; ``undecided`` could not be solved anew."""

    asked: int = 0
    undecided: int = 0
    better: tuple[BetterRecipe, ...] = ()
