"""The density of a blend: ``1 / sum(m_j v_j)`` over water and all that is dissolved in it.

``v_j`` are the apparent volumes of ``solutes`` at the total dissolved share of the mixture. What a
stock holds beside its solutes is water. Every stock of known solutes is calibrated so that alone
it has its own density ``rho_i`` (its certificate's): with ``V_i`` the model's volume of a pound of
it and ``V`` the model's volume of a pound of the mixture::

    volume of the blend = sum x_i / rho_i  +  V - sum x_i V_i

that is, ideal mixing and the contraction of the model. Stocks without known solutes mix ideally
with the rest (``V`` and ``V_i`` are of the known stocks among themselves), and so does a stock
whose solutes are far outside their data or do not explain its density (``mixes_ideally``).
Blends of such stocks alone have exactly ``sum x_i / rho_i``.

Everything is at 60 F. Not in it: reactions (acid with alkali warms, forms another salt and moves
the volume), crystals, gas. UAN 32 cut to 28 with water comes out 0.2 % below the published
10.67 lb/gal, by ideal mixing 0.4 %; a salt cut with water, where ideal mixing is off by up to
2 %, stays within 0.3 % of the equation for that strength. A measured density replaces it all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from formulas.engine.density.solutes import REFERENCE_C, SOLUTES, water_kg_per_l
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.engine.units import KG_PER_LB, L_PER_GAL
from formulas.engine.work.once import once_per_value

#: A stock stronger than this many times the largest share of its solute's data mixes ideally.
FARTHEST: Final = 1.25
#: Solutes that miss their stock's own density by more do not describe it: percent.
LARGEST_MISS_PCT: Final = 6.0
_LB_PER_GAL: Final = L_PER_GAL / KG_PER_LB


class Liquid(Protocol):
    """What mixing needs to know of a stock or a lot.

    ``solutes`` in percent by weight by key of ``solutes.SOLUTES``; none given: not known.
    """

    @property
    def density_lb_per_gal(self) -> float: ...

    @property
    def solutes(self) -> Mapping[str, float]: ...

    @property
    def is_water(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class _Dissolved:
    """The known part of a liquid: solutes by weight (0 to 1), their sum, the model's volume."""

    fractions: Mapping[str, float]
    share: float
    gal_per_lb: float

    @classmethod
    def of(cls, liquid: Liquid) -> _Dissolved:
        fractions = {key: pct / 100.0 for key, pct in liquid.solutes.items()}
        share = sum(fractions.values())
        return cls(fractions, share, model_gal_per_lb(fractions, REFERENCE_C))


def model_gal_per_lb(fractions: Mapping[str, float], temp_c: float) -> float:
    """Gallons of a pound of a solution in water; ``fractions`` by weight, 0 to 1, by solute key.

    Ammonium sulfate of 38 % at 60 F, 10.170 lb/gal (worked from the published coefficients)::

        >>> round(1 / model_gal_per_lb({"(NH4)2SO4": 0.38}, REFERENCE_C), 3)
        10.17
    """
    dissolved = sum(fractions.values())
    l_per_kg = (1.0 - dissolved) / water_kg_per_l(temp_c) + sum(
        fraction * SOLUTES[key].l_per_kg(dissolved, temp_c) for key, fraction in fractions.items()
    )
    return l_per_kg / _LB_PER_GAL


def mixes_ideally(liquid: Liquid) -> bool:
    """Whether nothing is known, or nothing reliable, of what is dissolved in this liquid."""
    if not liquid.solutes:
        return not liquid.is_water
    for key, pct in liquid.solutes.items():
        if pct > FARTHEST * SOLUTES[key].largest_pct:
            return True
    model = model_gal_per_lb({k: pct / 100 for k, pct in liquid.solutes.items()}, REFERENCE_C)
    return abs(model * liquid.density_lb_per_gal - 1.0) * 100.0 > LARGEST_MISS_PCT


def _dissolved_in(liquid: Liquid) -> _Dissolved | None:
    """What is dissolved in a liquid; None where it mixes ideally."""
    if not liquid.solutes and not liquid.is_water:
        return None
    if isinstance(liquid, Stock):
        return _dissolved_in_stock(liquid)
    return None if mixes_ideally(liquid) else _Dissolved.of(liquid)


@once_per_value
def _dissolved_in_stock(stock: Stock) -> _Dissolved | None:
    return None if mixes_ideally(stock) else _Dissolved.of(stock)


def volume_gal(liquids: Sequence[Liquid], masses: Sequence[float]) -> float:
    """Volume of a mixture of these masses (lb), US gal; ideal where nothing is known."""
    volume = 0.0
    for liquid, mass in zip(liquids, masses, strict=True):
        volume += mass / liquid.density_lb_per_gal
    known = [
        (of, mass)
        for liquid, mass in zip(liquids, masses, strict=True)
        if mass > 0 and (of := _dissolved_in(liquid)) is not None
    ]
    if len(known) > 1 and any(of.share > 0 for of, _ in known):
        total = sum(mass for _, mass in known)
        volume += total * model_gal_per_lb(_mixed(known), REFERENCE_C)
        volume -= sum(mass * of.gal_per_lb for of, mass in known)
    return volume


def partial_volumes_gal_per_lb(
    liquids: Sequence[Liquid], masses: Sequence[float]
) -> tuple[float, ...]:
    """What one pound more of each liquid adds to a mixture of these masses, gallons.

    The volume is homogeneous in the masses, so the partial volumes times the masses are the
    volume of the mixture (Euler), and near it they say how that changes. Masses in any unit.
    """
    own = [1.0 / liquid.density_lb_per_gal for liquid in liquids]
    known = {i: of for i, liquid in enumerate(liquids) if (of := _dissolved_in(liquid)) is not None}
    present = [(known[i], masses[i]) for i in known if masses[i] > 0]
    if not present or not any(of.share > 0 for of in known.values()):
        return tuple(own)
    mixed = _mixed(present)
    dissolved = sum(mixed.values())
    growth = sum(
        fraction * SOLUTES[key].l_per_kg_per_share(dissolved, REFERENCE_C)
        for key, fraction in mixed.items()
    )
    water = 1.0 / water_kg_per_l(REFERENCE_C)
    for i, of in known.items():
        l_per_kg = (
            (1.0 - of.share) * water
            + sum(
                fraction * SOLUTES[key].l_per_kg(dissolved, REFERENCE_C)
                for key, fraction in of.fractions.items()
            )
            + growth * (of.share - dissolved)
        )
        own[i] += l_per_kg / _LB_PER_GAL - of.gal_per_lb
    return tuple(own)


def _mixed(parts: Sequence[tuple[_Dissolved, float]]) -> dict[str, float]:
    """Solutes of the mixture of these parts and masses, by weight (0 to 1)."""
    total = sum(mass for _, mass in parts)
    mixed: dict[str, float] = {}
    for of, mass in parts:
        for key, fraction in of.fractions.items():
            mixed[key] = mixed.get(key, 0.0) + fraction * mass / total
    return mixed


def blend_density_lb_per_gal(stocks: Mapping[str, Stock], shares: Iterable[Share]) -> float:
    """Density of a blend at 60 F, lb per US gal; ``stocks`` by code, shares percent by weight.

    UAN 32 cut to 28 with water, published at 10.67 lb/gal (SPES-199)::

        >>> from formulas.engine.problem import Stock
        >>> uan = Stock("U", "UAN 32", 11.06, 0.2, {}, solutes={"urea": 34.3, "NH4NO3": 45.7})
        >>> water = Stock("W", "Water", 8.337, 0.0, {}, traits=frozenset({"water"}))
        >>> cut = [Share("U", 87.5), Share("W", 12.5)]
        >>> round(blend_density_lb_per_gal({"U": uan, "W": water}, cut), 2)
        10.65
    """
    used = list(shares)
    mass = 0.0
    for share in used:
        mass += share.pct
    return mass / volume_gal([stocks[share.code] for share in used], [x.pct for x in used])


def specific_volumes_gal_per_lb(
    stocks: Mapping[str, Stock], shares: Iterable[Share]
) -> dict[str, float]:
    """Gallons that a pound more of each stock of ``shares`` takes up in this blend, by code.

    Times the shares they add up to the blend's volume; a stock of share 0 may stand among them.
    """
    used = list(shares)
    volumes = partial_volumes_gal_per_lb(
        [stocks[share.code] for share in used], [share.pct for share in used]
    )
    return {share.code: volume for share, volume in zip(used, volumes, strict=True)}
