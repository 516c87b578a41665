"""What is dissolved in a stock, as a person writes it: ``urea 30; NH4NO3 40``."""

from __future__ import annotations

import math
from collections.abc import Mapping

from django.core.exceptions import ValidationError

from formulas.engine.validate import solute_errors


def read_solutes(text: str) -> dict[str, float]:
    """Percent by weight by solute key; ValidationError in a sentence if it cannot be read."""
    found: dict[str, float] = {}
    for part in filter(None, (part.strip() for part in text.replace(",", ";").split(";"))):
        key, _, pct = part.rpartition(" ")
        if not key.strip() or not _is_number(pct):
            raise ValidationError(f"“{part}” is not a substance and its percent, such as urea 30.")
        if key.strip() in found:
            raise ValidationError(f"{key.strip()} is given twice.")
        found[key.strip()] = float(pct)
    return found


def write_solutes(solutes: Mapping[str, float]) -> str:
    """The same as text, to ten digits."""
    return "; ".join(f"{key} {pct:.10g}" for key, pct in solutes.items())


def check_solutes(text: str) -> None:
    """Field validator: known substances, percents above 0 that fit into 100."""
    messages = [error.message for error in solute_errors("", read_solutes(text))]
    if messages:
        raise ValidationError(messages)


def _is_number(text: str) -> bool:
    try:
        return "_" not in text and math.isfinite(float(text))
    except ValueError:
        return False
