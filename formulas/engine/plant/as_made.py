"""What a batch really is: the weights on the scale and the assays of the lots really used.

For charge j of lot l with weight ``w_j`` (lb) and contents ``A_kl`` (percent)::

    M = sum w_j        a_k = sum A_kl w_j / M        V = V(w)        rho = M / V

In words: pounds of each nutrient add up; the volume is that of the same mixture when it is
formulated (``density.mixing``), at 60 F, an estimate that the hydrometer replaces. Half a ton
each of a 32 % and a 28 % lot makes 30 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from formulas.engine.composition import (
    ANALYSIS_KEYS,
    SLOW_RELEASE,
    WISH_KEYS,
    content_pct,
    slow_release_pct_of_n,
    with_total_n,
)
from formulas.engine.density.mixing import volume_gal
from formulas.engine.label.assay_check import Verdict
from formulas.engine.plant.as_made_maxima import (
    MaximumAsMade,
    MaximumVerdict,
    maxima_as_made,
    maximum_errors,
)
from formulas.engine.problem import BadProblem, FieldError
from formulas.engine.validate import solute_errors

#: Allowed shortfall of a key at a guarantee, percentage points; None where no rule gives one.
#: ``allowances.allowance_pct`` with its rule filled in has this shape.
AllowanceOf = Callable[[str, float], float | None]
#: Differences of decimal figures carried as floats.
_NOISE_PCT: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot of a base stock as its certificate states it.

    The density is at 60 F; ``analysis`` and ``solutes`` as of ``Stock``.
    """

    code: str
    stock: str
    density_lb_per_gal: float
    analysis: Mapping[str, float]
    solutes: Mapping[str, float] = field(default_factory=dict)
    is_water: bool = False


@dataclass(frozen=True, slots=True)
class Charge:
    """So many pounds of one lot in the tank; a lot may be charged more than once."""

    lot: str
    weight_lb: float


@dataclass(frozen=True, slots=True)
class GuaranteeAsMade:
    """One guarantee against what was made; ``floor_pct`` is guaranteed minus allowance.

    ``key`` is a composition key, or ``slow_release`` in percent of total nitrogen.
    """

    key: str
    guaranteed_pct: float
    made_pct: float
    allowance_pct: float | None
    floor_pct: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class AsMade:
    """What is in the tank. ``stock_lb`` and ``lot_lb`` follow the order of charging."""

    mass_lb: float
    volume_gal: float
    density_lb_per_gal: float
    analysis: Mapping[str, float]
    slow_release_pct: float | None
    stock_lb: Mapping[str, float]
    lot_lb: Mapping[str, float]
    guarantees: tuple[GuaranteeAsMade, ...]
    maxima: tuple[MaximumAsMade, ...] = ()

    @property
    def keeps_all(self) -> bool:
        """Whether every guarantee is met, without its allowance, and no maximum is exceeded."""
        return all(check.verdict is Verdict.MEETS for check in self.guarantees) and all(
            check.verdict is MaximumVerdict.MEETS for check in self.maxima
        )

    @property
    def is_deficient(self) -> bool:
        """Whether a guarantee is missed by more than its allowance."""
        return any(check.verdict is Verdict.DEFICIENT for check in self.guarantees)


def as_made(
    charges: Sequence[Charge],
    lots: Sequence[Lot],
    *,
    guarantees: Mapping[str, float] | None = None,
    slow_release_pct: float | None = None,
    maxima: Mapping[str, float] | None = None,
    slow_release_max_pct: float | None = None,
    allowance: AllowanceOf | None = None,
) -> AsMade:
    """The batch these charges make and how it stands against its guarantees.

    ``guarantees`` are minima in percent by weight, ``slow_release_pct`` a guaranteed share of
    total nitrogen (no published rule gives an allowance on a share: it is met or missed).
    An allowance is what a laboratory may find less, not a licence to make less; a batch within
    it is still short. ``maxima`` and ``slow_release_max_pct`` bound from above in the same units;
    there is no allowance on them. Raises ``BadProblem`` naming every wrong field.

    >>> lots = [Lot("A", "UAN32", 11.06, {"N.urea": 32.0}), Lot("B", "UAN28", 10.67,
    ...         {"N.urea": 28.0})]
    >>> made = as_made([Charge("A", 1000.0), Charge("B", 1000.0)], lots, guarantees={"N": 30.0})
    >>> made.analysis["N"], made.guarantees[0].verdict.value
    (30.0, 'meets')
    """
    promised, most = guarantees or {}, maxima or {}
    errors = (
        *_errors(charges, lots),
        *_guarantee_errors(promised, slow_release_pct),
        *maximum_errors(most, slow_release_max_pct),
    )
    if errors:
        raise BadProblem(errors)
    lot_of = {lot.code: lot for lot in lots}
    stock_lb: dict[str, float] = {}
    lot_lb: dict[str, float] = {}
    nutrient_lb: dict[str, float] = {}
    mass = 0.0
    for charge in charges:
        lot, weight = lot_of[charge.lot], charge.weight_lb
        stock_lb[lot.stock] = stock_lb.get(lot.stock, 0.0) + weight
        lot_lb[lot.code] = lot_lb.get(lot.code, 0.0) + weight
        mass += weight
        for key, pct in lot.analysis.items():
            nutrient_lb[key] = nutrient_lb.get(key, 0.0) + pct / 100.0 * weight
    volume = volume_gal([lot_of[code] for code in lot_lb], list(lot_lb.values()))
    contents = {key: 100.0 * lb / mass for key, lb in nutrient_lb.items()}
    return AsMade(
        mass_lb=mass,
        volume_gal=volume,
        density_lb_per_gal=mass / volume,
        analysis=with_total_n(contents),
        slow_release_pct=slow_release_pct_of_n(contents),
        stock_lb=stock_lb,
        lot_lb=lot_lb,
        guarantees=tuple(_checks(contents, promised, slow_release_pct, allowance)),
        maxima=tuple(maxima_as_made(contents, most, slow_release_max_pct)),
    )


def _checks(
    contents: Mapping[str, float],
    guarantees: Mapping[str, float],
    slow_release_pct: float | None,
    allowance: AllowanceOf | None,
) -> Iterator[GuaranteeAsMade]:
    for key in WISH_KEYS:
        if key in guarantees:
            asked = guarantees[key]
            allowed = None if allowance is None else allowance(key, asked)
            yield _check(key, asked, content_pct(contents, key), allowed)
    if slow_release_pct is not None:
        yield _check(SLOW_RELEASE, slow_release_pct, slow_release_pct_of_n(contents) or 0.0, None)


def _check(key: str, asked: float, made: float, allowed: float | None) -> GuaranteeAsMade:
    floor = asked - (allowed or 0.0)
    if made >= asked - _NOISE_PCT:
        verdict = Verdict.MEETS
    elif made >= floor - _NOISE_PCT:
        verdict = Verdict.WITHIN_ALLOWANCE
    else:
        verdict = Verdict.DEFICIENT
    return GuaranteeAsMade(key, asked, made, allowed, floor, verdict)


def _errors(charges: Sequence[Charge], lots: Sequence[Lot]) -> Iterator[FieldError]:
    seen: set[str] = set()
    for index, lot in enumerate(lots):
        if lot.code in seen:
            yield FieldError(f"lots.{index}.code", f"The lot {lot.code} is given twice.")
        seen.add(lot.code)
        yield from _lot_errors(f"lots.{index}", lot)
    for index, charge in enumerate(charges):
        if charge.lot not in seen:
            yield FieldError(f"charges.{index}.lot", f"There is no lot {charge.lot}.")
        if not (math.isfinite(charge.weight_lb) and charge.weight_lb >= 0):
            yield FieldError(f"charges.{index}.weight_lb", "A weight must be a number, 0 or more.")
    if not any(charge.weight_lb > 0 for charge in charges):
        yield FieldError("charges", "Nothing is in the tank yet.")


def _lot_errors(path: str, lot: Lot) -> Iterator[FieldError]:
    if not (math.isfinite(lot.density_lb_per_gal) and lot.density_lb_per_gal > 0):
        yield FieldError(f"{path}.density_lb_per_gal", "Density must be a number above 0.")
    for key, pct in lot.analysis.items():
        if key not in ANALYSIS_KEYS:
            yield FieldError(f"{path}.analysis.{key}", f"{key} cannot stand in an assay.")
        elif not _is_pct(pct):
            yield FieldError(
                f"{path}.analysis.{key}", "Content must be a number from 0 to 100 percent."
            )
    yield from solute_errors(path, lot.solutes)


def _guarantee_errors(
    guarantees: Mapping[str, float], slow_release_pct: float | None
) -> Iterator[FieldError]:
    for key, pct in guarantees.items():
        if key not in WISH_KEYS:
            yield FieldError(f"guarantees.{key}", f"{key} is not a known nutrient or ingredient.")
        elif not _is_pct(pct):
            yield FieldError(f"guarantees.{key}", "Must be a number from 0 to 100 percent.")
    if slow_release_pct is not None and not _is_pct(slow_release_pct):
        yield FieldError("slow_release_pct", "Must be a number from 0 to 100 percent.")


def _is_pct(value: float) -> bool:
    return math.isfinite(value) and 0 <= value <= 100
