"""A formulation with a margin: solved against the published allowances, and put into words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from formulas.contracts.assay_checks import allowance_pct
from formulas.contracts.formulation_answer import PLACES
from formulas.contracts.margin_request import MarginAsked
from formulas.engine.blend.margin import (
    GuaranteeMargin,
    MarginOutOfReach,
    MarginSolved,
    solve_with_margin,
)
from formulas.engine.blend.margin_spread import SLOW_RELEASE
from formulas.engine.problem import BlendProblem
from formulas.engine_bridge import unit_cost


def solved_with_margin(
    problem: BlendProblem, asked: MarginAsked
) -> MarginSolved | MarginOutOfReach:
    """The engine's answer, with the published allowances of assays."""
    return solve_with_margin(problem, asked.spreads, allowance=_allowance, chance=asked.chance)


def _allowance(key: str, guarantee_pct: float) -> float | None:
    """No rule gives an allowance for the slow-release share."""
    return None if key == SLOW_RELEASE else allowance_pct(key, guarantee_pct)


def margin_answer(found: MarginSolved | MarginOutOfReach, asked: MarginAsked) -> dict[str, Any]:
    """What the answer says under ``margin``.

    ``cost_per_lb`` is what the margin adds per lb of blend. Out of reach, ``aims_pct`` are the
    aims that could not be had and ``reachable_without`` says whether the wish itself could.
    """
    if isinstance(found, MarginOutOfReach):
        return {
            "chance": asked.chance,
            "guarantees": [],
            "aims_pct": _rounded(found.aims_pct),
            "reachable_without": found.without_margin is not None,
        }
    return {
        "chance": asked.chance,
        "standard_deviations": round(found.z, PLACES),
        "guarantees": [_guarantee(item) for item in found.guarantees],
        "cost_per_lb": str(unit_cost(found.margin_cost_per_lb)),
        "is_tight": found.is_tight,
    }


def _guarantee(item: GuaranteeMargin) -> dict[str, Any]:
    return {
        "key": item.key,
        "guarantee_pct": round(item.guarantee_pct, PLACES),
        "aim_pct": round(item.aim_pct, PLACES),
        "expected_pct": round(item.expected_pct, PLACES),
        "sigma_pct": round(item.sigma_pct, PLACES),
        "allowance_pct": None if item.allowance_pct is None else round(item.allowance_pct, PLACES),
        "chance_below_guarantee": item.chance_below_guarantee,
        "chance_deficient": item.chance_deficient,
    }


def _rounded(figures: Mapping[str, float]) -> dict[str, float]:
    return {key: round(pct, PLACES) for key, pct in figures.items()}
