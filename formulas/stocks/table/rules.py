"""What a base stock must satisfy, asked by the upload and by the back office alike."""

from __future__ import annotations

import re
from collections.abc import Mapping

from django.core.exceptions import ValidationError

from blendshop.saving import sentences
from formulas.engine.problem import Stock
from formulas.engine.validate import stock_errors
from formulas.models import BaseStock

_CODE = re.compile(r"[A-Z0-9][A-Z0-9_-]{0,19}")


def code_problem(code: str) -> str | None:
    """What is wrong with the code of a new stock; it stands in addresses and on tickets."""
    if _CODE.fullmatch(code):
        return None
    return f"“{code}” cannot be a code: up to 20 capital letters, digits, - and _."


def analysis_problems(analysis: Mapping[str, float]) -> dict[str, str]:
    """What the engine would refuse of an analysis, by field (``analysis.N.urea``, ``analysis``)."""
    sample = Stock("X", "X", 10.0, 0.0, analysis)
    return {
        error.field.removeprefix("stocks.0."): error.message for error in stock_errors((sample,))
    }


def stock_problems(row: BaseStock, analysis: Mapping[str, float]) -> dict[str, str]:
    """Everything wrong with a stock, by field."""
    problems = analysis_problems(analysis)
    try:
        row.full_clean()
    except ValidationError as error:
        problems |= sentences(error)
    if row.ph_low is not None and row.ph_high is not None and row.ph_low > row.ph_high:
        problems["ph_high"] = "The highest pH is below the lowest."
    return problems
