"""A formulation with a margin: solved against the published allowances."""

from __future__ import annotations

from collections.abc import Mapping

from formulas.answers.margin import GuaranteeMargin, MarginKept, MarginMissed
from formulas.contracts.assay_checks import allowance_pct
from formulas.contracts.formulation_answer import PLACES
from formulas.contracts.margin_request import ParsedMargin
from formulas.engine.blend import margin as engine
from formulas.engine.blend.margin import MarginOutOfReach, MarginSolved, solve_with_margin
from formulas.engine.problem import BlendProblem
from formulas.engine.wishes import SLOW_RELEASE
from formulas.engine_bridge import unit_cost
from formulas.reference.allowances import UNIFORM, allowance_rules


def solved_with_margin(
    problem: BlendProblem, asked: ParsedMargin
) -> MarginSolved | MarginOutOfReach:
    """The engine's answer, with the published allowances of assays."""
    return solve_with_margin(
        problem,
        asked.spreads,
        allowance=_allowance,
        index_floor_pct=allowance_rules()[UNIFORM].index_floor_pct,
        chance=asked.chance,
    )


def _allowance(key: str, guarantee_pct: float) -> float | None:
    """No rule gives an allowance for the slow-release share."""
    return None if key == SLOW_RELEASE else allowance_pct(key, guarantee_pct)


def margin_answer(
    found: MarginSolved | MarginOutOfReach, asked: ParsedMargin
) -> MarginKept | MarginMissed:
    """What the answer says under ``margin``."""
    if isinstance(found, MarginOutOfReach):
        return MarginMissed(
            chance=asked.chance,
            aims_pct=_rounded(found.aims_pct),
            reachable_without=found.without_margin is not None,
        )
    return MarginKept(
        chance=asked.chance,
        standard_deviations=round(found.z, PLACES),
        guarantees=tuple(_guarantee(item) for item in found.guarantees),
        chance_any_missed=found.chance_any_missed,
        chance_deficient_any=found.chance_deficient_any,
        chance_index_low=found.chance_index_low,
        cost_per_lb=unit_cost(found.margin_cost_per_lb),
        is_tight=found.is_tight,
    )


def _guarantee(item: engine.GuaranteeMargin) -> GuaranteeMargin:
    return GuaranteeMargin(
        key=item.key,
        guarantee_pct=round(item.guarantee_pct, PLACES),
        aim_pct=round(item.aim_pct, PLACES),
        expected_pct=round(item.expected_pct, PLACES),
        sigma_pct=round(item.sigma_pct, PLACES),
        allowance_pct=None if item.allowance_pct is None else round(item.allowance_pct, PLACES),
        chance_below_guarantee=item.chance_below_guarantee,
        chance_deficient=item.chance_deficient,
    )


def _rounded(figures: Mapping[str, float]) -> dict[str, float]:
    return {key: round(pct, PLACES) for key, pct in figures.items()}
