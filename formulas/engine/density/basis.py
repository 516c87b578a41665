"""How the density of a recipe was found, and what is doubtful about it: facts, no sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formulas.engine.density.mixing import Liquid, mixes_ideally
from formulas.engine.density.solutes import REFERENCE_C, SOLUTES, Solute


@dataclass(frozen=True, slots=True)
class DensityBasis:
    """``ideal`` are the positions of the liquids that mix ideally for want of known solutes.

    ``is_ideal``: nothing in the mixture goes by apparent volumes. ``outside`` are solutes whose
    data do not reach the mixture's dissolved share or 60 F, ``estimated`` those without data of
    their own.
    """

    is_ideal: bool
    ideal: tuple[int, ...] = ()
    outside: tuple[Solute, ...] = ()
    estimated: tuple[Solute, ...] = ()


def density_basis(liquids: Sequence[Liquid], masses: Sequence[float]) -> DensityBasis:
    """How ``mixing.volume_gal`` of the same liquids and masses comes about."""
    used = [i for i, mass in enumerate(masses) if mass > 0]
    ideal = tuple(i for i in used if mixes_ideally(liquids[i]))
    known = [i for i in used if i not in ideal]
    dissolved_lb: dict[str, float] = {}
    for i in known:
        for key, pct in liquids[i].solutes.items():
            dissolved_lb[key] = dissolved_lb.get(key, 0.0) + masses[i] * pct / 100.0
    if len(known) < 2 or not dissolved_lb:
        return DensityBasis(is_ideal=True, ideal=ideal)
    dissolved_pct = 100.0 * sum(dissolved_lb.values()) / sum(masses[i] for i in known)
    solutes = [SOLUTES[key] for key in dissolved_lb]
    return DensityBasis(
        is_ideal=False,
        ideal=ideal,
        outside=tuple(
            solute
            for solute in solutes
            if dissolved_pct > solute.largest_pct or not solute.is_fitted_at(REFERENCE_C)
        ),
        estimated=tuple(solute for solute in solutes if len(solute.terms) > 1),
    )
