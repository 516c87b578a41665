"""Costs entered as by a person who says that large moves are right."""

from collections.abc import Callable
from typing import Any

from formulas.stocks.cost_moves import LargeCostMoves


def surely(action: Callable[..., Any], **arguments: Any) -> Any:
    """The action, called again with the words of its question where it asks one."""
    try:
        return action(**arguments)
    except LargeCostMoves as asked:
        return action(**arguments, sure_of=asked.sure_of)
