"""Refuse a wrong load, naming every field by its path (``load.fine_scale.max_lb``)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from formulas.engine.composition import ANALYSIS_KEYS, WISH_KEYS
from formulas.engine.plant.load import LoadQuestion
from formulas.engine.problem import BadProblem, FieldError, Fill
from formulas.engine.validate import SUM_TOLERANCE_PCT, unknown_stock, validate

#: A weighing that may be off by more than a tenth is no weighing.
MOST_TOLERANCE_PCT: Final = 10.0


def refuse_wrong(question: LoadQuestion) -> None:
    """Raise ``BadProblem`` carrying one ``FieldError`` for every wrong field; else return."""
    errors = [
        *load_errors(question),
        *_recipe_errors(question),
        *_printed_errors(question),
    ]
    try:
        # A printed line is checked above, by its own name.
        validate(replace(question.problem, fill=Fill(volume_gal=1.0)))
    except BadProblem as refused:
        errors = [*refused.errors, *errors]
    if errors:
        raise BadProblem(tuple(errors))


def load_errors(question: LoadQuestion) -> Iterator[FieldError]:
    """What is wrong with tank, scales, tolerance and heel, whatever is blended in it."""
    yield from _figure_errors(question)
    yield from _heel_errors(question)


def _figure_errors(question: LoadQuestion) -> Iterator[FieldError]:
    fine = question.scale.fine
    figures = {
        "load.volume_gal": question.volume_gal,
        "load.capacity_gal": question.capacity_gal,
        "load.density_correction": question.density_correction,
        "load.scale_step_lb": question.scale.step_lb,
        "load.fine_scale.step_lb": None if fine is None else fine.step_lb,
        "load.fine_scale.max_lb": None if fine is None else fine.max_lb,
    }
    for field, figure in figures.items():
        if figure is not None and not (math.isfinite(figure) and figure > 0):
            yield FieldError(field, "Must be a number above 0.")
    tolerance = question.tolerance_pct
    if not (math.isfinite(tolerance) and 0 <= tolerance <= MOST_TOLERANCE_PCT):
        yield FieldError(
            "load.tolerance_pct", f"Must be a number from 0 to {MOST_TOLERANCE_PCT:g} percent."
        )


def _recipe_errors(question: LoadQuestion) -> Iterator[FieldError]:
    if question.recipe is None:
        return
    codes, seen = {stock.code for stock in question.problem.stocks}, set()
    for index, share in enumerate(question.recipe):
        if share.code not in codes:
            yield unknown_stock(f"recipe.{index}.code", share.code)
        elif share.code in seen:
            yield FieldError(f"recipe.{index}.code", f"{share.code} is given twice.")
        seen.add(share.code)
        if not (math.isfinite(share.pct) and 0 <= share.pct <= 100):
            yield FieldError(f"recipe.{index}.pct", "Must be a number from 0 to 100 percent.")
    total = sum(share.pct for share in question.recipe)
    # Stored shares are rounded to a few decimals; they are only what the weights start from.
    if not abs(total - 100) <= max(SUM_TOLERANCE_PCT, 1e-3):
        yield FieldError("recipe", f"The shares add up to {total:g} %, not 100 %.")


def _printed_errors(question: LoadQuestion) -> Iterator[FieldError]:
    for key, pct in question.printed_pct.items():
        if key not in WISH_KEYS:
            yield FieldError(f"printed.{key}", "Not a known nutrient or ingredient.")
        elif not (math.isfinite(pct) and 0 <= pct <= 100):
            yield FieldError(f"printed.{key}", "Must be a number from 0 to 100 percent.")


def _heel_errors(question: LoadQuestion) -> Iterator[FieldError]:
    heel = question.heel
    if heel is None:
        return
    for field, figure in (("volume_gal", heel.volume_gal), ("mass_lb", heel.mass_lb)):
        if not (math.isfinite(figure) and figure > 0):
            yield FieldError(f"load.heel.{field}", "Must be a number above 0.")
    if heel.volume_gal >= question.volume_gal:
        yield FieldError(
            "load.heel.volume_gal", "The heel must be less than what the tank holds at the end."
        )
    for key, pct in heel.analysis.items():
        if key not in ANALYSIS_KEYS:
            message = (
                "Give nitrogen by form; total N is their sum."
                if key == "N"
                else f"{key} is not a known nutrient or ingredient."
            )
            yield FieldError(f"load.heel.analysis.{key}", message)
        elif not (math.isfinite(pct) and 0 <= pct <= 100):
            yield FieldError(
                f"load.heel.analysis.{key}", "Content must be a number from 0 to 100 percent."
            )
