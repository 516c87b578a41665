"""Which release pool each pound of a blend's nitrogen belongs to, judged from its recipe.

The analysis alone cannot tell urea-triazone from methylene urea: both are slowly available
water-soluble nitrogen. The traits of the stocks can. Nitrogen of a slow source without a
published rate (dicyandiamide's own nitrogen, a slow stock without a trait) is counted as not
modelled and said so; it never counts as released or as zero.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from formulas.engine.blend.evaluate import evaluate
from formulas.engine.composition import NITROGEN_FORMS
from formulas.engine.problem import BadProblem, FieldError, Stock
from formulas.engine.result import Finding, Severity, Share

#: Percent N in urea, CH4N2O, from IUPAC atomic masses.
UREA_N_PCT: Final = 46.65
#: Lowest dose that lowered ammonia loss, percent NBPT by weight of urea: Watson's nBTPT trials,
#: 0.005 % cut the loss of 8 days from 37.7 to 13.6 %.
LEAST_NBPT_PCT_OF_UREA: Final = 0.005
_NBPT_SOURCE: Final = (
    "Watson, nBTPT on urea: 0.005 % by weight of urea was the lowest dose reported"
)


class PoolKind(StrEnum):
    """A kind of nitrogen that is released at its own rate."""

    AT_ONCE = "at_once"
    UREA = "urea"
    UREA_NBPT = "urea_nbpt"
    UREA_NBPT_DCD = "urea_nbpt_dcd"
    TRIAZONE = "triazone"
    METHYLENE_UREA = "methylene_urea"
    UREAFORM = "ureaform"


@dataclass(frozen=True, slots=True)
class PoolNitrogen:
    """Pounds of nitrogen in one pool."""

    kind: PoolKind
    n_lb_per_1000sqft: float


@dataclass(frozen=True, slots=True)
class BlendPools:
    """A blend's nitrogen as applied, by pool in the order of ``PoolKind``.

    ``not_modelled_lb_per_1000sqft`` has no published rate. ``findings`` says what was decided.
    """

    pools: tuple[PoolNitrogen, ...]
    not_modelled_lb_per_1000sqft: float = 0.0
    findings: tuple[Finding, ...] = ()

    @property
    def applied_n_lb_per_1000sqft(self) -> float:
        """All nitrogen, modelled or not."""
        modelled = sum(pool.n_lb_per_1000sqft for pool in self.pools)
        return modelled + self.not_modelled_lb_per_1000sqft


def blend_pools(
    shares: Sequence[Share], stocks: Sequence[Stock], *, n_rate_lb_per_1000sqft: float
) -> BlendPools:
    """The recipe's nitrogen by pool at a rate of total N.

    Shares add up to 100 percent by weight. Raises ``BadProblem`` naming the recipe's or the
    rate's wrong field, or a blend without nitrogen.

    >>> uan = Stock("UAN", "UAN 32", 11.06, 0.2, {"N.urea": 16, "N.nitrate": 8, "N.ammoniacal": 8})
    >>> found = blend_pools([Share("UAN", 100.0)], [uan], n_rate_lb_per_1000sqft=1.0)
    >>> [(pool.kind.value, pool.n_lb_per_1000sqft) for pool in found.pools]
    [('at_once', 0.5), ('urea', 0.5)]
    """
    if not (math.isfinite(n_rate_lb_per_1000sqft) and n_rate_lb_per_1000sqft > 0):
        raise BadProblem((FieldError("n_rate_lb_per_1000sqft", "Must be a number above 0."),))
    analysis = evaluate(stocks, shares).analysis
    total_n_pct = analysis.get("N", 0.0)
    if total_n_pct <= 0:
        raise BadProblem((FieldError("recipe", "The blend holds no nitrogen."),))

    findings: list[Finding] = []
    urea_kind = _urea_kind(
        urea_n_pct=analysis.get("N.urea", 0.0),
        nbpt_pct=analysis.get("NBPT", 0.0),
        dcd_pct=analysis.get("DCD", 0.0),
        findings=findings,
    )
    by_code = {stock.code: stock for stock in stocks}
    n_pct = dict.fromkeys(PoolKind, 0.0)
    not_modelled: dict[str, float] = {}
    for share in shares:
        stock = by_code[share.code]
        for form in NITROGEN_FORMS:
            content_pct = share.pct / 100.0 * stock.analysis.get(form, 0.0)
            kind = urea_kind if form == "N.urea" else _kind_of(form, stock)
            if kind is not None:
                n_pct[kind] += content_pct
            elif content_pct > 0:
                not_modelled[stock.name] = not_modelled.get(stock.name, 0.0) + content_pct
    pounds_per_pct = n_rate_lb_per_1000sqft / total_n_pct
    findings += _not_modelled_findings(not_modelled, total_n_pct)
    return BlendPools(
        pools=tuple(
            PoolNitrogen(kind, pct * pounds_per_pct) for kind, pct in n_pct.items() if pct > 0
        ),
        not_modelled_lb_per_1000sqft=sum(not_modelled.values()) * pounds_per_pct,
        findings=tuple(findings),
    )


def pool_errors(blend: BlendPools) -> Iterator[FieldError]:
    """Errors of pools that a caller made without a recipe."""
    for index, pool in enumerate(blend.pools):
        if not (math.isfinite(pool.n_lb_per_1000sqft) and pool.n_lb_per_1000sqft >= 0):
            yield FieldError(
                f"pools.{index}.n_lb_per_1000sqft", "Must be a number of pounds, 0 or more."
            )
    rest = blend.not_modelled_lb_per_1000sqft
    if not (math.isfinite(rest) and rest >= 0):
        yield FieldError("not_modelled_lb_per_1000sqft", "Must be a number of pounds, 0 or more.")
    elif not blend.applied_n_lb_per_1000sqft > 0:
        yield FieldError("pools", "There is no nitrogen to release.")


def _kind_of(form: str, stock: Stock) -> PoolKind | None:
    """The pool of a form other than urea; None if no rate is published for it."""
    if form == "N.insoluble":
        return PoolKind.UREAFORM
    if form != "N.slow":
        return PoolKind.AT_ONCE
    # Triazone solutions carry both traits, so triazone is asked first.
    if "triazone" in stock.traits:
        return PoolKind.TRIAZONE
    return PoolKind.METHYLENE_UREA if "uf_condensate" in stock.traits else None


def _urea_kind(
    *, urea_n_pct: float, nbpt_pct: float, dcd_pct: float, findings: list[Finding]
) -> PoolKind:
    """The pool of free urea by the inhibitors in the tank."""
    if urea_n_pct <= 0:
        return PoolKind.UREA
    if nbpt_pct > 0:
        dose_pct = 100.0 * nbpt_pct / (100.0 * urea_n_pct / UREA_N_PCT)
        if dose_pct >= LEAST_NBPT_PCT_OF_UREA:
            return PoolKind.UREA_NBPT_DCD if dcd_pct > 0 else PoolKind.UREA_NBPT
        findings.append(
            Finding(
                "nbpt_dose",
                Severity.CAUTION,
                f"NBPT is {dose_pct:.2g} % of the urea, below the lowest dose with a published "
                f"effect ({LEAST_NBPT_PCT_OF_UREA:g} %): the urea counts as uninhibited.",
                _NBPT_SOURCE,
            )
        )
    if dcd_pct > 0:
        findings.append(
            Finding(
                "dcd_and_urea",
                Severity.INFO,
                "DCD slows nitrification, not the hydrolysis of urea: without NBPT the urea "
                "counts as uninhibited.",
                "Lasisi and Akinremi 2020, Can. J. Soil Sci. 101(2): the inhibitor of "
                "nitrification did not lengthen the effect of NBPT on hydrolysis",
            )
        )
    return PoolKind.UREA


def _not_modelled_findings(not_modelled: dict[str, float], total_n_pct: float) -> Iterator[Finding]:
    for name, pct in not_modelled.items():
        yield Finding(
            "slow_n_not_modelled",
            Severity.CAUTION,
            f"{100.0 * pct / total_n_pct:.3g} % of the nitrogen is slow nitrogen of {name}, for "
            "which no published release rate was found: it is left out of the curves.",
            "No publication found",
        )
