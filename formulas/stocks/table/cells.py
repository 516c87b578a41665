"""One cell of the table to one value; what is wrong is said for the person who typed it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation

from formulas.engine_bridge import figure_from_text
from formulas.models import CostUnit, Mark
from formulas.stocks.table.fields import Kind, StockField

_YES_NO = {"yes": True, "no": False}


class CellError(ValueError):
    """A cell that cannot be read; names its column."""

    def __init__(self, column: str, message: str) -> None:
        self.column = column
        self.message = message
        super().__init__(f"{column}: {message}")


def value_in(cell: str, spec: StockField) -> str | float | bool | date | None:
    """The value of a stock field; None for an empty optional number or day."""
    if spec.kind is Kind.TEXT:
        if not cell and not spec.optional:
            raise CellError("value", f"The {spec.name} must not be empty.")
        return cell
    if not cell:
        if spec.optional:
            return None
        raise CellError("value", f"{spec.name} needs a {spec.kind}.")
    if spec.kind is Kind.YES_NO:
        if cell.lower() not in _YES_NO:
            raise CellError("value", f"{cell} is neither yes nor no.")
        return _YES_NO[cell.lower()]
    if spec.kind is Kind.DAY:
        return day_in(cell, "value")
    number = number_in(cell, "value")
    if spec.kind is Kind.NUMBER:
        return number
    if number != int(number):
        raise CellError("value", f"{cell} is not a whole number.")
    return int(number)


def number_in(cell: str, column: str) -> float:
    try:
        return figure_from_text(cell)
    except ValueError as error:
        raise CellError(column, f"{cell or 'An empty cell'} is not a finite number.") from error


def amount_in(cell: str) -> Decimal:
    """A cost; at most four decimals, because more would be lost when it is stored."""
    try:
        amount = Decimal(cell)
    except InvalidOperation as error:
        raise CellError("value", f"{cell or 'An empty cell'} is not an amount.") from error
    if not amount.is_finite() or not 0 <= amount < 10**8:
        raise CellError("value", f"{cell} is not an amount of money.")
    if amount != round(amount, 4):
        raise CellError("value", "A cost has at most four decimals.")
    return amount


def day_in(cell: str, column: str) -> date:
    try:
        return date.fromisoformat(cell)
    except ValueError as error:
        raise CellError(column, f"{cell} is not a date; write it as 2026-01-31.") from error


def unit_of_cost(cell: str) -> str:
    if cell not in set(CostUnit):
        raise CellError("unit", f"A cost is per {', '.join(CostUnit)}, not “{cell}”.")
    return cell


def known_mark(cell: str) -> str:
    if cell not in set(Mark):
        raise CellError("mark", f"“{cell}” is not a mark; use one of: {', '.join(Mark)}.")
    return cell
