"""Refuse a wrong question, naming every field; nothing is ever clamped or corrected.

Field paths follow the JSON contract (``targets.0.min``, ``stock_limits.0.min_pct``), because
that is what a person or a script sent. A wish that merely cannot be met is *not* a bad
question: that is the solver's finding.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from formulas.engine.composition import ANALYSIS_KEYS, WISH_KEYS
from formulas.engine.density.solutes import SOLUTES
from formulas.engine.problem import (
    BadProblem,
    BlendProblem,
    CompatibilityRule,
    Effect,
    FieldError,
    Fill,
    NutrientWish,
    SlowReleaseWish,
    Stock,
)
from formulas.engine.work.once import once_per_tuple

_ANALYSIS_KEYS: Final = frozenset(ANALYSIS_KEYS)
_WISH_KEYS: Final = frozenset(WISH_KEYS)
#: Sums of percentages typed with a few decimals may miss 100 by this much.
SUM_TOLERANCE_PCT: Final = 1e-6
#: Published analyses are rounded to two decimals, and so may their sum be off.
ROUNDED_ANALYSIS_PCT: Final = 0.01
#: Mass of oxygen that one mass of chlorine stands for, 15.9994 / (2 x 35.453): potash is stated
#: as K2O even where it is KCl, so oxide and chlorine together count that oxygen twice.
#: Atomic masses: IUPAC-based, PyPI ``molmass``.
OXYGEN_PER_CHLORINE: Final = 15.9994 / (2 * 35.453)
OXYGEN_IN_K2O: Final = 15.9994 / (2 * 39.0983 + 15.9994)


def validate(problem: BlendProblem) -> None:
    """Raise ``BadProblem`` carrying one ``FieldError`` for every wrong field; else return."""
    errors = [
        *errors_of_stocks(problem.stocks),
        *wish_errors(problem.wishes, problem.slow_release),
        *_stock_limit_errors(problem),
        *_exclude_errors(problem),
        *errors_of_rules(problem.rules),
        *_choice_errors(problem),
        *fill_errors(problem.fill),
    ]
    if not errors:
        errors = list(_minimum_sum_errors(problem))
    if errors:
        raise BadProblem(tuple(errors))


@once_per_tuple
def errors_of_stocks(stocks: tuple[Stock, ...]) -> tuple[FieldError, ...]:
    """``stock_errors``, looked for once in a catalogue."""
    return tuple(stock_errors(stocks))


@once_per_tuple
def errors_of_rules(rules: tuple[CompatibilityRule, ...]) -> tuple[FieldError, ...]:
    """``rule_errors``, looked for once."""
    return tuple(rule_errors(rules))


@once_per_tuple
def _codes(stocks: tuple[Stock, ...]) -> frozenset[str]:
    return frozenset(stock.code for stock in stocks)


@once_per_tuple
def _own_minima(stocks: tuple[Stock, ...]) -> Mapping[str, float]:
    """Shares the stocks themselves ask for, percent by code."""
    return {stock.code: stock.min_pct for stock in stocks if stock.min_pct > 0}


def stock_errors(stocks: Sequence[Stock]) -> Iterator[FieldError]:
    """Errors of the catalogue itself."""
    if not stocks:
        yield FieldError("stocks", "At least one stock is needed.")
    seen = Counter(stock.code for stock in stocks)
    for index, stock in enumerate(stocks):
        path = f"stocks.{index}"
        if not stock.code.strip():
            yield FieldError(f"{path}.code", "A stock needs a code.")
        elif seen[stock.code] > 1:
            yield FieldError(f"{path}.code", f"The code {stock.code} is used more than once.")
        if not _is_positive(stock.density_lb_per_gal):
            yield FieldError(f"{path}.density_lb_per_gal", "Density must be a number above 0.")
        if not _is_not_negative(stock.cost_per_lb):
            yield FieldError(f"{path}.cost_per_lb", "Cost must be a number, 0 or more.")
        if not _is_positive(stock.scale_step_lb):
            yield FieldError(f"{path}.scale_step_lb", "The scale step must be a number above 0.")
        yield from _pct_range_errors(path, stock.min_pct, stock.max_pct, ("min_pct", "max_pct"))
        yield from _analysis_errors(path, stock)
        yield from solute_errors(path, stock.solutes)


def solute_errors(path: str, solutes: Mapping[str, float]) -> Iterator[FieldError]:
    """Errors of what is said to be dissolved in a liquid, percent by weight by key."""
    sound = True
    for key, pct in solutes.items():
        if key not in SOLUTES:
            sound = False
            known = ", ".join(SOLUTES)
            yield FieldError(f"{path}.solutes.{key}", f"{key} is no known solute: {known}.")
        elif not (_is_pct(pct) and pct > 0):
            sound = False
            yield FieldError(
                f"{path}.solutes.{key}", "Must be a number above 0, at most 100 percent."
            )
    total = sum(solutes.values())
    if sound and total > 100 + ROUNDED_ANALYSIS_PCT:
        yield FieldError(f"{path}.solutes", f"They add up to {total:g} %, more than 100 %.")


def _analysis_errors(path: str, stock: Stock) -> Iterator[FieldError]:
    bad = False
    for key, content in stock.analysis.items():
        if key not in _ANALYSIS_KEYS:
            bad = True
            message = (
                "Give nitrogen by form; total N is their sum."
                if key == "N"
                else f"{key} is not a known nutrient or ingredient."
            )
            yield FieldError(f"{path}.analysis.{key}", message)
        elif not _is_pct(content):
            bad = True
            yield FieldError(
                f"{path}.analysis.{key}", "Content must be a number from 0 to 100 percent."
            )
    if not bad:
        chlorine, potash = stock.analysis.get("Cl", 0.0), stock.analysis.get("K2O", 0.0)
        twice = min(OXYGEN_PER_CHLORINE * chlorine, OXYGEN_IN_K2O * potash)
        total = sum(stock.analysis.values()) - twice
        if total > 100 + ROUNDED_ANALYSIS_PCT:
            yield FieldError(
                f"{path}.analysis", f"The analysis adds up to {total:g} %, more than 100 %."
            )


def wish_errors(
    wishes: Sequence[NutrientWish], slow_release: SlowReleaseWish | None
) -> Iterator[FieldError]:
    """Errors of the wishes alone."""
    for index, wish in enumerate(wishes):
        path = f"targets.{index}"
        if wish.nutrient not in _WISH_KEYS:
            yield FieldError(
                f"{path}.nutrient", f"{wish.nutrient} is not a known nutrient or ingredient."
            )
        if wish.min_pct is None and wish.max_pct is None:
            yield FieldError(path, "Give a minimum, a maximum or both.")
        if not _is_range(wish.min_pct, wish.max_pct):
            yield from _pct_range_errors(path, wish.min_pct, wish.max_pct, ("min", "max"))
    yield from _range_errors("slow_release_pct", slow_release, ("min", "max"))


def _range_errors(path: str, wish: object, names: tuple[str, str]) -> Iterator[FieldError]:
    if wish is None:
        return
    low: float | None = getattr(wish, "min_pct", None)
    high: float | None = getattr(wish, "max_pct", None)
    if low is None and high is None:
        yield FieldError(path, "Give a minimum, a maximum or both.")
    yield from _pct_range_errors(path, low, high, names)


def _stock_limit_errors(problem: BlendProblem) -> Iterator[FieldError]:
    codes = _codes(problem.stocks)
    for index, limit in enumerate(problem.stock_limits):
        path = f"stock_limits.{index}"
        if limit.code not in codes:
            yield unknown_stock(f"{path}.code", limit.code)
        yield from _range_errors(path, limit, ("min_pct", "max_pct"))


def _exclude_errors(problem: BlendProblem) -> Iterator[FieldError]:
    for code in sorted(problem.exclude - _codes(problem.stocks)):
        yield unknown_stock("exclude", code)


def unknown_stock(field: str, code: str) -> FieldError:
    """The error of a code that no stock has."""
    return FieldError(field, f"There is no stock with the code {code}.", unknown_stock=code)


def rule_errors(rules: Sequence[CompatibilityRule]) -> Iterator[FieldError]:
    """Errors of the compatibility rules."""
    for index, rule in enumerate(rules):
        path = f"rules.{index}"
        if not rule.trait_a.strip() or not rule.trait_b.strip():
            yield FieldError(path, "A rule needs two traits.")
        given = (rule.largest_pct is not None) + (rule.largest_ratio is not None)
        if given != (1 if rule.effect is Effect.LIMIT else 0):
            yield FieldError(
                f"{path}.largest_pct",
                "A limit needs either a largest share or a largest ratio; other rules neither.",
            )
        if rule.largest_pct is not None and not _is_pct(rule.largest_pct):
            yield FieldError(
                f"{path}.largest_pct", "The largest share must be from 0 to 100 percent."
            )
        if rule.largest_ratio is not None and not _is_not_negative(rule.largest_ratio):
            yield FieldError(
                f"{path}.largest_ratio", "The largest ratio must be a number, 0 or more."
            )


def _choice_errors(problem: BlendProblem) -> Iterator[FieldError]:
    if not _is_pct(problem.smallest_charge_pct):
        yield FieldError(
            "smallest_charge_pct", "The smallest charge must be from 0 to 100 percent."
        )
    most = problem.most_stocks
    if most is not None and (isinstance(most, bool) or not _is_whole(most) or most < 1):
        yield FieldError("most_stocks", "The number of stocks must be a whole number above 0.")
    ceiling = problem.cost_ceiling
    if ceiling is not None and not _is_positive(ceiling.max_per_gal):
        yield FieldError(
            "cost_per_gal.max", "The largest cost per gallon must be a number above 0."
        )
    if problem.strongest is not None and problem.strongest not in _WISH_KEYS:
        yield FieldError(
            "objective.strongest", f"{problem.strongest} is not a known nutrient or ingredient."
        )


def fill_errors(fill: Fill) -> Iterator[FieldError]:
    """Errors of how much to make."""
    if (fill.volume_gal is None) == (fill.mass_lb is None):
        yield FieldError("fill", "Give either a volume or a mass.")
        return
    for name in ("volume_gal", "mass_lb"):
        amount: float | None = getattr(fill, name)
        if amount is not None and not _is_positive(amount):
            yield FieldError(f"fill.{name}", "The amount to make must be a number above 0.")


def _minimum_sum_errors(problem: BlendProblem) -> Iterator[FieldError]:
    """Minimum shares that cannot fit into 100 %; only asked once every number is sound."""
    minima = _own_minima(problem.stocks)
    if not (minima or problem.stock_limits):
        return
    least = {code: pct for code, pct in minima.items() if code not in problem.exclude}
    if sum(least.values()) > 100 + SUM_TOLERANCE_PCT:
        yield FieldError("stocks", "The stocks' minimum shares add up to more than 100 %.")
        return
    for limit in problem.stock_limits:
        least[limit.code] = max(least.get(limit.code, 0.0), limit.min_pct or 0.0)
    if sum(least.values()) > 100 + SUM_TOLERANCE_PCT:
        yield FieldError("stock_limits", "The minimum shares add up to more than 100 %.")


def _pct_range_errors(
    path: str, low: float | None, high: float | None, names: tuple[str, str]
) -> Iterator[FieldError]:
    sound = True
    for name, value in zip(names, (low, high), strict=True):
        if value is not None and not _is_pct(value):
            sound = False
            yield FieldError(f"{path}.{name}", "Must be a number from 0 to 100 percent.")
    if sound and low is not None and high is not None and low > high:
        yield FieldError(
            f"{path}.{names[0]}", f"The minimum {low:g} is above the maximum {high:g}."
        )


def _is_range(low: float | None, high: float | None) -> bool:
    """Whether ``_pct_range_errors`` finds nothing, asked first because it nearly always is so."""
    return 0 <= (0 if low is None else low) <= (100 if high is None else high) <= 100


def _is_pct(value: float) -> bool:
    return 0 <= value <= 100  # which neither infinity nor what is not a number is


def _is_positive(value: float) -> bool:
    return math.isfinite(value) and value > 0


def _is_not_negative(value: float) -> bool:
    return math.isfinite(value) and value >= 0


def _is_whole(value: float) -> bool:
    return math.isfinite(value) and value == int(value)
