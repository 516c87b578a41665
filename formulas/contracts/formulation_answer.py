"""The answer of a formulation, made once from what the engine found. Figures are rounded here.

**Order.** Recipe lines stand by descending share, equal shares by code. (Charging order belongs
to the batch ticket.)

**Money.** A line costs its printed pounds times the stock's cost per lb; the total is their sum,
rounded half up to the cent, and the cents are split over the lines by largest remainder, so the
lines always add up to the total. Costs per lb and gal are the unrounded total over the printed
mass and volume, to four places.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, TypedDict

from blendshop.money import ZERO, money, split_money, unit_price
from formulas.answers.answer import (
    AlternativeAnswer,
    Answer,
    Infeasibility,
    LeftOut,
    Notice,
    OutOfReachAnswer,
    RecipeLine,
    RelaxedWish,
    SolvedAnswer,
    Totals,
    WishCost,
    WishReach,
)
from formulas.answers.margin import MarginKept, MarginMissed
from formulas.answers.wish import (
    CHEAPEST,
    CostPerGal,
    FixedShare,
    Objective,
    Range,
    StockLimit,
    Target,
    Wish,
)
from formulas.answers.wish import Fill as FillWish
from formulas.contracts.field_paths import field_of
from formulas.contracts.formulation_request import ParsedRequest
from formulas.engine.composition import with_total_n
from formulas.engine.density import mass_lb_for, volume_gal_for
from formulas.engine.law.mixture_hazards import Portion, mixture_hazards
from formulas.engine.problem import BlendProblem, Fill, Per
from formulas.engine.result import Alternative, Blend, Finding, OutOfReach, Severity, Share, Solved
from formulas.engine.wishes import WishId, relaxed_problem
from formulas.engine_bridge import Catalogue, exact, unit_cost
from formulas.reference.mixture_hazards import mixture_table
from formulas.wording.limits import contract_words

#: Far finer than any scale or assay, coarse enough to print the same on every machine.
PLACES: Final = 6
_NOT_EXPLAINED: Final = (
    "No blend meets this wish. Which limits stand in the way takes more work to find out than one "
    "question may: leave some of them out and ask again."
)


def answer_of(
    request: ParsedRequest,
    problem: BlendProblem,
    result: Solved | OutOfReach,
    margin: MarginKept | MarginMissed | None = None,
) -> Answer:
    """The answer to a request; ``problem`` is what the result speaks of (minima with margins)."""
    told = _Teller(request, problem)
    if isinstance(result, OutOfReach):
        return OutOfReachAnswer(
            analysis={},
            left_out=_left_out(request.catalogue),
            out_of_reach=told.infeasibility(result),
            margin=margin if isinstance(margin, MarginMissed) else None,
        )
    return SolvedAnswer(
        **blend_figures(result.blend, request.catalogue, problem.fill),
        sensitivity=tuple(
            WishCost(
                wish=told.words(item.wish),
                field=field_of(request, item.wish),
                cost_per_unit=unit_cost(item.cost_per_unit),
            )
            for item in result.sensitivities
        ),
        left_out=_left_out(request.catalogue),
        margin=margin if isinstance(margin, MarginKept) else None,
    )


@dataclass(frozen=True, slots=True)
class _Teller:
    """Puts the engine's identities into words and paths of one request."""

    request: ParsedRequest
    problem: BlendProblem

    def words(self, wish: WishId) -> str:
        return contract_words(self.problem, wish)

    def infeasibility(self, result: OutOfReach) -> Infeasibility:
        return Infeasibility(
            conflict=tuple(self.words(wish) for wish in result.conflict),
            conflict_fields=tuple(field_of(self.request, wish) for wish in result.conflict),
            reach=tuple(
                WishReach(
                    wish=self.words(reach.wish),
                    field=field_of(self.request, reach.wish),
                    asked=reach.asked,
                    best=reach.best,
                )
                for reach in result.reach
            ),
            alternatives=tuple(self._alternative(item) for item in result.alternatives),
            not_explained=None if result.is_explained else _NOT_EXPLAINED,
        )

    def _alternative(self, alternative: Alternative) -> AlternativeAnswer:
        moves = [(item.wish, item.to) for item in alternative.relaxed]
        return AlternativeAnswer(
            relaxed=tuple(
                RelaxedWish(wish=self.words(wish), field=field_of(self.request, wish), to=to)
                for wish, to in moves
            ),
            **blend_figures(alternative.blend, self.request.catalogue, self.problem.fill),
            request=wish_of(relaxed_problem(self.problem, moves), self.request.own_limits),
        )


class _Figures(TypedDict):
    """What every answer with a blend in it has."""

    recipe: tuple[RecipeLine, ...]
    totals: Totals
    analysis: dict[str, float]
    slow_release_pct: float | None
    warnings: tuple[Notice, ...]


def blend_figures(blend: Blend, catalogue: Catalogue, fill: Fill) -> _Figures:
    """A blend made to a fill."""
    stocks = {stock.code: stock for stock in catalogue.stocks}
    shares = sorted(blend.shares, key=lambda share: (-round(share.pct, PLACES), share.code))
    pounds = _pounds(shares, mass_lb_for(fill, blend.density_lb_per_gal))
    costs = _costs(shares, pounds, catalogue)
    total = sum(costs, Decimal(0))
    slow = blend.slow_release_pct
    return {
        "recipe": tuple(
            RecipeLine(
                code=share.code,
                name=stocks[share.code].name,
                pct=round(share.pct, PLACES),
                lb=lb,
                gal=round(lb / stocks[share.code].density_lb_per_gal, PLACES),
                cost=cost,
            )
            for share, lb, cost in zip(shares, pounds, _in_cents(total, costs), strict=True)
        ),
        "totals": _totals(blend, fill, total),
        "analysis": {
            key: rounded
            for key, pct in with_total_n(blend.analysis).items()
            if (rounded := round(pct, PLACES)) > 0
        },
        "slow_release_pct": None if slow is None else round(slow, PLACES),
        "warnings": tuple(notice_of(finding) for finding in _findings(blend, catalogue)),
    }


def blend_totals(blend: Blend, catalogue: Catalogue, fill: Fill) -> Totals:
    """The totals of ``blend_figures`` alone."""
    pounds = _pounds(blend.shares, mass_lb_for(fill, blend.density_lb_per_gal))
    return _totals(blend, fill, sum(_costs(blend.shares, pounds, catalogue), Decimal(0)))


def _pounds(shares: Sequence[Share], mass_lb: float) -> list[float]:
    return [round(share.pct / 100 * mass_lb, PLACES) for share in shares]


def _costs(shares: Sequence[Share], pounds: Sequence[float], catalogue: Catalogue) -> list[Decimal]:
    """Exact cost of each share, dollars."""
    return [
        exact(lb) * catalogue.cost_per_lb[share.code]
        for lb, share in zip(pounds, shares, strict=True)
    ]


def _totals(blend: Blend, fill: Fill, cost: Decimal) -> Totals:
    mass_lb = mass_lb_for(fill, blend.density_lb_per_gal)
    volume_gal = volume_gal_for(fill, blend.density_lb_per_gal)
    return Totals(
        mass_lb=round(mass_lb, PLACES),
        volume_gal=round(volume_gal, PLACES),
        density_lb_per_gal=round(blend.density_lb_per_gal, PLACES),
        cost=money(cost),
        cost_per_lb=unit_price(cost / exact(mass_lb)),
        cost_per_gal=unit_price(cost / exact(volume_gal)),
    )


def _findings(blend: Blend, catalogue: Catalogue) -> list[Finding]:
    """The engine's findings and the hazard classes of the blend, most severe first."""
    stocks = {stock.code: stock for stock in catalogue.stocks}
    portions = (
        Portion(share.pct, stocks[share.code].analysis, stocks[share.code].traits)
        for share in blend.shares
    )
    hazards = mixture_hazards(portions, mixture_table())
    order = (Severity.STOP, Severity.CAUTION, Severity.INFO)
    return sorted(
        (*blend.findings, *(each.finding for each in hazards)),
        key=lambda finding: order.index(finding.severity),
    )


def notice_of(finding: Finding) -> Notice:
    """A finding of the engine as contracts say it."""
    return Notice(
        code=finding.code,
        severity=finding.severity,
        message=finding.message,
        source=finding.source,
    )


def _in_cents(total: Decimal, costs: list[Decimal]) -> Iterable[Decimal]:
    """Each line's cents, adding up to the total; a recipe of water may cost nothing at all."""
    return split_money(money(total), costs) if any(costs) else [ZERO] * len(costs)


def _left_out(catalogue: Catalogue) -> tuple[LeftOut, ...]:
    return tuple(LeftOut(code=code, reason=why) for code, why in catalogue.left_out.items())


def wish_of(problem: BlendProblem, own_limits: int) -> Wish:
    """The request of a problem, without ``stocks`` and ``rules``.

    Limits behind the first ``own_limits`` came from ``recipe``; where such a share is no longer
    fixed it is given as a limit.
    """
    limits = [StockLimit(x.code, x.min_pct, x.max_pct) for x in problem.stock_limits[:own_limits]]
    recipe = []
    for limit in problem.stock_limits[own_limits:]:
        if limit.min_pct is not None and limit.min_pct == limit.max_pct:
            recipe.append(FixedShare(limit.code, limit.min_pct))
        else:
            limits.append(StockLimit(limit.code, limit.min_pct, limit.max_pct))
    slow = problem.slow_release
    return Wish(
        targets=tuple(Target(x.nutrient, x.min_pct, x.max_pct) for x in problem.wishes),
        slow_release_pct=None if slow is None else Range(slow.min_pct, slow.max_pct),
        stock_limits=tuple(limits),
        recipe=tuple(recipe),
        exclude=tuple(sorted(problem.exclude)),
        smallest_charge_pct=problem.smallest_charge_pct or None,
        most_stocks=problem.most_stocks,
        cost_per_gal=(
            None if problem.cost_ceiling is None else CostPerGal(problem.cost_ceiling.max_per_gal)
        ),
        objective=_objective(problem),
        fill=FillWish(problem.fill.volume_gal, problem.fill.mass_lb),
    )


def _objective(problem: BlendProblem) -> str | Objective:
    if problem.strongest is not None:
        return Objective(strongest=problem.strongest)
    if problem.cheapest_per is not Per.LB:
        return Objective(cheapest_per=problem.cheapest_per)
    return CHEAPEST
