"""The chance that any of several guarantees is missed, when their shortfalls hang together.

What the guarantees have to spare is jointly normal: ``b_k`` in the mean, scattering by a
covariance. With ``z`` standard normal of as many dimensions r as the covariance has rank,
guarantee k is missed where ``C_k z < -b_k``. Written in polar coordinates, ``z = R u``: along a
direction u nothing is missed while R stays within two bounds, and R has the chi distribution of
r degrees of freedom, whose tail is known exactly. What is left is the mean over directions u
(I. Deak, Three digit accurate multiple normal probabilities, Numer. Math. 35, 1980), taken over
orthonormal sets of directions and their opposites from a fixed seed: the same question has the
same answer everywhere, small chances keep their digits.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from statistics import NormalDist
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats, Mask

#: Directions and opposites: a chance of one percent is then held to 3 % of itself for nine
#: guarantees that scatter apart, and better for fewer.
_DIRECTIONS: Final = 30_000
#: Radii at which the chi tail is tabled; its logarithm is read off between them to 0.002 %.
_RADII: Final = np.linspace(0.0, 38.0, 3801)
_SEED: Final = 19800
#: Eigenvalues of a correlation below this are the noise of its figures.
_NO_RANK: Final = 1e-10
#: Spare of a guarantee without scatter that still counts as kept, percentage points.
_NOISE_PCT: Final = 1e-6
#: Standard deviations, and the logarithm of their chance, are found to this.
_SETTLED_Z: Final = 1e-9
_STEPS: Final = 60
#: Radius a unit of z away that no draw reaches.
_FAR: Final = 1e9
_NORMAL: Final = NormalDist()


def chance_of_any(spare_pct: Floats, covariance: Floats) -> float:
    """Chance (a fraction) that at least one guarantee is missed.

    ``spare_pct`` has the shape (guarantees,): expected less guaranteed, percentage points.
    ``covariance`` (guarantees, guarantees) in points squared may be singular: guarantees that
    scatter as one are one.

    Two that are independent, each missed with a chance of 0.1587: 1 - 0.8413 squared::

        >>> round(chance_of_any(np.array([1.0, 1.0]), np.eye(2)), 3)
        0.292
    """
    sigma = np.sqrt(np.diag(covariance))
    scatters = sigma > 0
    if (spare_pct[~scatters] < -_NOISE_PCT).any():
        return 1.0
    if not scatters.any():
        return 0.0
    spare = spare_pct[scatters] / sigma[scatters]
    against = _against(covariance, scatters)
    with np.errstate(divide="ignore", invalid="ignore"):
        bound = spare[:, None] / against
    high = np.where(
        against > 0, bound, np.where((against == 0) & (spare < 0)[:, None], -1.0, np.inf)
    )
    low = np.where(against < 0, bound, 0.0)
    first, last = np.maximum(low.max(axis=0), 0.0), high.min(axis=0)
    degrees = _rank(covariance, scatters)
    missed = np.where(last > first, _chi_tail(last, degrees) + 1.0 - _chi_tail(first, degrees), 1.0)
    return float(min(1.0, missed.mean()))


def standard_deviations_for(chance: float, covariance: Floats) -> float:
    """How many of its own standard deviations each must have to spare, so that any is missed
    with ``chance`` (a fraction from 0 to 0.5, both excluded below).

    Between what one guarantee alone and what as many independent ones would need.
    """
    sigma = np.sqrt(np.diag(covariance))
    scatters = sigma > 0
    alone = -_NORMAL.inv_cdf(chance)
    count = int(scatters.sum())
    if count <= 1:
        return alone
    with np.errstate(divide="ignore"):
        nearest = np.where((a := _against(covariance, scatters)) > 0, 1.0 / a, _FAR).min(axis=0)
    degrees = _rank(covariance, scatters)

    def excess(z: float) -> float:
        """Nearly linear in z squared, as the tail is."""
        return math.log(float(_chi_tail(z * nearest, degrees).mean()) / chance)

    low, high = alone, -_NORMAL.inv_cdf(chance / count)
    return _root(excess, low, high)


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function passes 0, by false position with halved ends (Illinois).

    The upper end where it does not pass 0 between the two.
    """
    at_low, at_high = falling(low), falling(high)
    if at_low <= 0:
        return low
    if at_high >= 0:
        return high
    kept = 0
    for _ in range(_STEPS):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = falling(middle)
        if at_middle > 0:
            low, at_low = middle, at_middle
            at_high, kept = (at_high / 2.0 if kept > 0 else at_high), 1
        else:
            high, at_high = middle, at_middle
            at_low, kept = (at_low / 2.0 if kept < 0 else at_low), -1
        if high - low <= _SETTLED_Z or abs(at_middle) <= _SETTLED_Z:
            return middle
    return high


def _against(covariance: Floats, scatters: Mask) -> Floats:
    """How far each direction moves each guarantee down, standard deviations a unit of radius."""
    values, vectors = _spectrum(covariance, scatters)
    factor = vectors * np.sqrt(values)
    directions = _directions(len(values))
    return -(factor @ directions)


def _rank(covariance: Floats, scatters: Mask) -> int:
    return len(_spectrum(covariance, scatters)[0])


def _spectrum(covariance: Floats, scatters: Mask) -> tuple[Floats, Floats]:
    kept = covariance[np.ix_(scatters, scatters)]
    sigma = np.sqrt(np.diag(kept))
    values, vectors = np.linalg.eigh(kept / np.outer(sigma, sigma))
    counts = values > _NO_RANK
    return values[counts], vectors[:, counts]


@cache
def _directions(rank: int) -> Floats:
    """Unit vectors as columns, each beside its opposite; shape (rank, directions)."""
    if rank == 1:
        return np.array([[1.0, -1.0]])
    sets = math.ceil(_DIRECTIONS / (2 * rank))
    normal = np.random.default_rng(_SEED).standard_normal((sets, rank, rank))
    q, r = np.linalg.qr(normal)
    # Columns by the sign of R's diagonal are uniform over all orthogonal matrices.
    q = q * np.sign(np.diagonal(r, axis1=1, axis2=2))[:, None, :]
    columns = q.transpose(1, 0, 2).reshape(rank, -1)
    both: Floats = np.hstack([columns, -columns])
    both.flags.writeable = False
    return both


def _chi_tail(x: Floats, degrees: int) -> Floats:
    """Chance that a chi variable of so many degrees of freedom exceeds each ``x >= 0``."""
    return np.exp(np.interp(x, _RADII, _log_chi_tail(degrees)))


@cache
def _log_chi_tail(degrees: int) -> Floats:
    """Natural logarithm of the tail at ``_RADII``; the finite sums for whole degrees of freedom.

    M. Abramowitz, I. Stegun, Handbook of Mathematical Functions (1964), 26.4.4 and 26.4.5.
    """
    half = _RADII**2 / 2.0
    if degrees % 2 == 0:
        tail, term, first = np.exp(-half), np.ones_like(half), 2
        total = term
    else:
        tail, term, first = np.exp(-half) * math.sqrt(2.0 / math.pi), _RADII.copy(), 3
        total = np.zeros_like(half) if degrees == 1 else term
    for i in range(first, degrees, 2):
        term = term * _RADII**2 / i
        total = total + term
    tail = tail * total
    if degrees % 2:
        tail = tail + np.array([math.erfc(each) for each in _RADII / math.sqrt(2.0)])
    logs: Floats = np.log(tail)
    return logs
