"""What the finished batch should measure, and how a tank is rinsed before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from formulas.engine.density.basis import density_basis
from formulas.engine.mark import Mark
from formulas.engine.problem import Stock
from formulas.models import BaseStock
from orders.frozen.load_plan import DensityWindow, PhWindow

#: Half width of the density window, percent of the expected density. UAN 32 cut to 28 and 30 comes
#: out 0.2 to 0.4 % below the densities in Virginia Cooperative Extension SPES-199, 0.41 to 0.56 %
#: by ideal mixing; the rest is for temperature and hydrometer.
DENSITY_WINDOW_PCT: Final = 1.0
DENSITY_BASIS: Final = (
    f"Expected density by ideal mixing of the stocks' densities, ± 1 %: {Mark.COMMON_PRACTICE}."
)
DISSOLVED_BASIS: Final = (
    "Expected density at 60 °F from the volumes of what is dissolved"
    f" (Laliberté 2009; {Mark.COMPUTED}){{ideal}}, ± 1 %: {Mark.COMMON_PRACTICE}."
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


#: Places a hydrometer and a pH meter are read to.
_DENSITY_PLACES: Final = 2
_PH_PLACES: Final = 1


def expected_density_basis(stocks: Sequence[Stock], masses_lb: Sequence[float]) -> str:
    """How the expected density of this mixture was found, and which stocks mix ideally in it."""
    basis = density_basis(stocks, masses_lb)
    if basis.is_ideal:
        return DENSITY_BASIS
    names = ", ".join(stocks[i].name for i in basis.ideal)
    return DISSOLVED_BASIS.format(ideal=f"; by ideal mixing of {names}" if names else "")


def density_window(
    density_lb_per_gal: float, temperature_f: float, basis: str = DENSITY_BASIS
) -> DensityWindow:
    """Around the expected density, which holds at ``temperature_f``."""
    spread = density_lb_per_gal * DENSITY_WINDOW_PCT / 100
    return DensityWindow(
        round(density_lb_per_gal - spread, _DENSITY_PLACES),
        round(density_lb_per_gal + spread, _DENSITY_PLACES),
        basis,
        temperature_f,
    )


def measured_window(
    density_lb_per_gal: float, temperature_f: float, batch_number: str
) -> DensityWindow:
    """Around what a released batch of the same revision measured, at ``temperature_f``."""
    basis = f"As measured of {batch_number}, ± 1 %: {Mark.COMMON_PRACTICE}."
    return density_window(density_lb_per_gal, temperature_f, basis)


def ph_window(stocks: Sequence[BaseStock]) -> PhWindow:
    """The span of the stocks' own pH, or not known as soon as one stock has none.

    Water takes whatever pH the others give it and is left out, unless it is alone.
    """
    told = [stock for stock in stocks if not _is_water(stock)] or list(stocks)
    missing = [stock.name for stock in told if stock.ph_low is None or stock.ph_high is None]
    if missing:
        return PhWindow(None, None, f"{PH_UNKNOWN} (no pH on file for {', '.join(missing)})")
    return PhWindow(
        round(min(stock.ph_low for stock in told if stock.ph_low is not None), _PH_PLACES),
        round(max(stock.ph_high for stock in told if stock.ph_high is not None), _PH_PLACES),
        PH_BASIS,
    )


def _is_water(stock: BaseStock) -> bool:
    return any(trait.code == "water" for trait in stock.traits.all())
