"""The answer of a formulation as JSON values. Physical figures are rounded here, once.

**Order.** Recipe lines stand by descending share, equal shares by code. (Charging order belongs
to the batch ticket.)

**Money.** A line costs its printed pounds times the stock's cost per lb; the total is their sum,
rounded half up to the cent, and the cents are split over the lines by largest remainder, so the
lines always add up to the total. Costs per lb and gal are the unrounded total over the printed
mass and volume, to four places.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Final

from blendshop.money import ZERO, money, split_money, unit_price
from formulas.contracts.formulation_request import Asked
from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.linear_program import linear_model
from formulas.engine.blend.relaxation import relaxed_problem
from formulas.engine.composition import with_total_n
from formulas.engine.density import mass_lb_for, volume_gal_for
from formulas.engine.problem import BlendProblem, Fill
from formulas.engine.result import Alternative, Blend, Finding, OutOfReach, Solved
from formulas.engine_bridge import Catalogue, exact, unit_cost

#: Far finer than any scale or assay, coarse enough to print the same on every machine.
PLACES: Final = 6


def answer_of(asked: Asked, result: Solved | OutOfReach) -> dict[str, Any]:
    """Every key of the contract; ``out_of_reach`` only then."""
    if isinstance(result, OutOfReach):
        return {
            "status": "out_of_reach",
            "recipe": [],
            "totals": None,
            "analysis": {},
            "slow_release_pct": None,
            "sensitivity": [],
            "warnings": [],
            "left_out": _left_out(asked.catalogue),
            "out_of_reach": _out_of_reach(asked, result),
        }
    return {
        "status": "solved",
        **blend_answer(result.blend, asked.catalogue, asked.problem.fill),
        "sensitivity": [
            {"wish": item.wish, "cost_per_unit": str(unit_cost(item.cost_per_unit))}
            for item in result.sensitivities
        ],
        "left_out": _left_out(asked.catalogue),
    }


def blend_answer(blend: Blend, catalogue: Catalogue, fill: Fill) -> dict[str, Any]:
    """``recipe, totals, analysis, slow_release_pct, warnings`` of a blend made to a fill."""
    mass_lb = mass_lb_for(fill, blend.density_lb_per_gal)
    volume_gal = volume_gal_for(fill, blend.density_lb_per_gal)
    stocks = {stock.code: stock for stock in catalogue.stocks}
    shares = sorted(blend.shares, key=lambda share: (-round(share.pct, PLACES), share.code))
    pounds = [round(share.pct / 100 * mass_lb, PLACES) for share in shares]
    costs = [
        exact(lb) * catalogue.cost_per_lb[share.code]
        for lb, share in zip(pounds, shares, strict=True)
    ]
    total = sum(costs, Decimal(0))
    return {
        "recipe": [
            {
                "code": share.code,
                "name": stocks[share.code].name,
                "pct": round(share.pct, PLACES),
                "lb": lb,
                "gal": round(lb / stocks[share.code].density_lb_per_gal, PLACES),
                "cost": str(cost),
            }
            for share, lb, cost in zip(shares, pounds, _in_cents(total, costs), strict=True)
        ],
        "totals": {
            "mass_lb": round(mass_lb, PLACES),
            "volume_gal": round(volume_gal, PLACES),
            "density_lb_per_gal": round(blend.density_lb_per_gal, PLACES),
            "cost": str(money(total)),
            "cost_per_lb": str(unit_price(total / exact(mass_lb))),
            "cost_per_gal": str(unit_price(total / exact(volume_gal))),
        },
        "analysis": {
            key: rounded
            for key, pct in with_total_n(blend.analysis).items()
            if (rounded := round(pct, PLACES)) > 0
        },
        "slow_release_pct": (
            None if blend.slow_release_pct is None else round(blend.slow_release_pct, PLACES)
        ),
        "warnings": [finding_answer(finding) for finding in blend.findings],
    }


def finding_answer(finding: Finding) -> dict[str, str]:
    """A finding as a warning of the contract."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "message": finding.message,
        "source": finding.source,
    }


def _in_cents(total: Decimal, costs: list[Decimal]) -> Iterable[Decimal]:
    """Each line's cents, adding up to the total; a recipe of water may cost nothing at all."""
    return split_money(money(total), costs) if any(costs) else [ZERO] * len(costs)


def _left_out(catalogue: Catalogue) -> list[dict[str, str]]:
    return [{"code": code, "reason": reason} for code, reason in catalogue.left_out.items()]


def _out_of_reach(asked: Asked, result: OutOfReach) -> dict[str, Any]:
    return {
        "conflict": list(result.conflict),
        "reach": [
            {"wish": reach.wish, "asked": reach.asked, "best": reach.best} for reach in result.reach
        ],
        "alternatives": [_alternative(asked, item) for item in result.alternatives],
    }


def _alternative(asked: Asked, alternative: Alternative) -> dict[str, Any]:
    """What gives way, the blend, and ``request``: the wishes to send to get exactly it."""
    return {
        "relaxed": [{"wish": item.wish, "to": item.to} for item in alternative.relaxed],
        **blend_answer(alternative.blend, asked.catalogue, asked.problem.fill),
        "request": wishes_of(_relaxed(asked.problem, alternative), asked.own_limits),
    }


def _relaxed(problem: BlendProblem, alternative: Alternative) -> BlendProblem:
    wishes = {w.name: w for w in with_choices(linear_model(problem), problem).wishes}
    return relaxed_problem(problem, [(wishes[item.wish], item.to) for item in alternative.relaxed])


def wishes_of(problem: BlendProblem, own_limits: int) -> dict[str, Any]:
    """The request of a problem, without ``stocks`` and ``rules``.

    Limits behind the first ``own_limits`` came from ``recipe``; where such a share is no longer
    fixed it is given as a limit.
    """
    limits, recipe = list(problem.stock_limits[:own_limits]), []
    for limit in problem.stock_limits[own_limits:]:
        if limit.min_pct == limit.max_pct:
            recipe.append({"code": limit.code, "pct": limit.min_pct})
        else:
            limits.append(limit)
    slow = problem.slow_release
    request: dict[str, Any] = {
        "targets": [
            {"nutrient": wish.nutrient, **_sides("min", wish.min_pct, "max", wish.max_pct)}
            for wish in problem.wishes
        ],
        "slow_release_pct": slow and _sides("min", slow.min_pct, "max", slow.max_pct),
        "stock_limits": [
            {"code": limit.code, **_sides("min_pct", limit.min_pct, "max_pct", limit.max_pct)}
            for limit in limits
        ],
        "recipe": recipe,
        "exclude": sorted(problem.exclude),
        "smallest_charge_pct": problem.smallest_charge_pct or None,
        "most_stocks": problem.most_stocks,
        "objective": {"strongest": problem.strongest} if problem.strongest else "cheapest",
        "fill": _sides("volume_gal", problem.fill.volume_gal, "mass_lb", problem.fill.mass_lb),
    }
    return {key: value for key, value in request.items() if value not in (None, [], {})}


def _sides(low: str, least: float | None, high: str, most: float | None) -> dict[str, float]:
    return {key: value for key, value in ((low, least), (high, most)) if value is not None}
