"""What the finished batch should measure, and how the tank is made ready for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from formulas.engine.mark import Mark
from formulas.engine.problem import CompatibilityRule, Effect
from formulas.models import BaseStock
from orders.models import Batch

#: Half width of the density window, percent of the expected density. Ideal mixing is off by 0.41
#: to 0.56 % when UAN 32 is cut to 28 and 30 (computed from the densities in Virginia Cooperative
#: Extension SPES-199); the rest is for temperature and hydrometer.
DENSITY_WINDOW_PCT: Final = 1.0
DENSITY_BASIS: Final = (
    f"Expected density by ideal mixing of the stocks' densities, ± 1 %: {Mark.COMMON_PRACTICE}."
)
PH_UNKNOWN: Final = "not known: measure and record"
PH_BASIS: Final = (
    "Between the lowest and the highest pH of the stocks' own sheets; mixing and dilution move it"
    f" ({Mark.COMMON_PRACTICE})."
)
SAME_PRODUCT: Final = (
    f"Same product as before: drain the tank; no rinse between loads ({Mark.COMMON_PRACTICE})."
)
RINSE: Final = (
    "Drain tank, pump and hoses; rinse until the last rinse is clear and measures like fresh"
    " water. Rinsate goes back into a blend of the same stocks or to approved disposal, never to"
    f" a drain ({Mark.COMMON_PRACTICE})."
)
TANK_LOG: Final = "Check the tank log: another batch may have been made in between."


@dataclass(frozen=True, slots=True)
class Window:
    """What a reading should lie between; both None when it is not known. ``basis`` says why."""

    low: float | None
    high: float | None
    basis: str


def density_window(density_lb_per_gal: float) -> Window:
    """Pounds per gallon around the expected density."""
    spread = density_lb_per_gal * DENSITY_WINDOW_PCT / 100
    return Window(density_lb_per_gal - spread, density_lb_per_gal + spread, DENSITY_BASIS)


def measured_window(density_lb_per_gal: float, batch_number: str) -> Window:
    """Pounds per gallon around what a released batch of the same revision measured."""
    window = density_window(density_lb_per_gal)
    basis = f"As measured of {batch_number}, ± 1 %: {Mark.COMMON_PRACTICE}."
    return Window(window.low, window.high, basis)


def ph_window(stocks: Sequence[BaseStock]) -> Window:
    """The span of the stocks' own pH, or not known as soon as one stock has none.

    Water takes whatever pH the others give it and is left out, unless it is alone.
    """
    told = [stock for stock in stocks if not _is_water(stock)] or list(stocks)
    missing = [stock.name for stock in told if stock.ph_low is None or stock.ph_high is None]
    if missing:
        return Window(None, None, f"{PH_UNKNOWN} (no pH on file for {', '.join(missing)})")
    return Window(
        min(stock.ph_low for stock in told if stock.ph_low is not None),
        max(stock.ph_high for stock in told if stock.ph_high is not None),
        PH_BASIS,
    )


@dataclass(frozen=True, slots=True)
class Cleanout:
    """What was in the tank before (empty: not known) and what to do about it."""

    previous_product: str
    instruction: str


def cleanout(
    previous: Batch | None,
    blend_reference: str,
    traits: frozenset[str],
    rules: Sequence[CompatibilityRule],
) -> Cleanout:
    """The clean-out line for a batch with these traits after the tank's previous batch."""
    if previous is None:
        return Cleanout("", RINSE)
    name = f"{previous.plan['product_name']} ({previous.number})"
    if previous.plan["blend_reference"] == blend_reference:
        return Cleanout(name, f"{SAME_PRODUCT} {TANK_LOG}")
    before = {trait for step in previous.plan["steps"] for trait in step["traits"]}
    clashes = dict.fromkeys(
        f"Residue would react: {rule.reason} ({rule.source})"
        for rule in rules
        if rule.effect is Effect.BLOCKS and _clash(rule, before, traits)
    )
    return Cleanout(name, " ".join([*clashes, RINSE, TANK_LOG]))


def _clash(rule: CompatibilityRule, before: set[str], now: frozenset[str]) -> bool:
    return (rule.trait_a in before and rule.trait_b in now) or (
        rule.trait_b in before and rule.trait_a in now
    )


def _is_water(stock: BaseStock) -> bool:
    return any(trait.code == "water" for trait in stock.traits.all())
