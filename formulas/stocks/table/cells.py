"""One cell of the table to one value; what is wrong is said for the person who typed it."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Final

from django.utils.translation import gettext as _

from formulas.engine_bridge import figure_from_text
from formulas.models import CostUnit, Mark
from formulas.stocks.table.fields import Kind, StockField

_YES_NO = {"yes": True, "no": False}
_US_DAY: Final = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})", re.ASCII)
#: Commas between thousands, where a dollar sign or a decimal point leaves no doubt: in ``1,234``
#: alone the comma may be a decimal one, which is refused.
_GROUPED: Final = re.compile(
    r"\$[1-9]\d{0,2}(,\d{3})+(\.\d+)?|[1-9]\d{0,2}(,\d{3})+\.\d+", re.ASCII
)


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
            raise CellError("value", _("The {name} must not be empty.").format(name=spec.name))
        return cell
    if not cell:
        if spec.optional:
            return None
        raise CellError("value", _("{name} needs a {kind}.").format(name=spec.name, kind=spec.kind))
    if spec.kind is Kind.YES_NO:
        if cell.lower() not in _YES_NO:
            raise CellError("value", _("{cell} is neither yes nor no.").format(cell=cell))
        return _YES_NO[cell.lower()]
    if spec.kind is Kind.DAY:
        return day_in(cell, "value")
    number = number_in(cell, "value")
    if spec.kind is Kind.NUMBER:
        return number
    if number != int(number):
        raise CellError("value", _("{cell} is not a whole number.").format(cell=cell))
    return int(number)


def number_in(cell: str, column: str) -> float:
    try:
        return figure_from_text(cell)
    except ValueError as error:
        raise CellError(
            column, _("{cell} is not a finite number.").format(cell=cell or _("An empty cell"))
        ) from error


def amount_in(cell: str) -> Decimal:
    """A cost; at most four decimals, because more would be lost when it is stored.

    A dollar sign is fine, and with one (or a decimal point) commas between thousands.
    """
    plain = cell.replace(",", "") if _GROUPED.fullmatch(cell) else cell
    try:
        amount = Decimal(plain.removeprefix("$"))
    except InvalidOperation as error:
        raise CellError(
            "value", _("{cell} is not an amount.").format(cell=cell or _("An empty cell"))
        ) from error
    if not amount.is_finite() or not 0 <= amount < 10**8:
        raise CellError("value", _("{cell} is not an amount of money.").format(cell=cell))
    if amount != round(amount, 4):
        raise CellError("value", _("A cost has at most four decimals."))
    return amount


def day_in(cell: str, column: str) -> date:
    """A day as ISO 8601 or as the trade writes it, month/day/year."""
    found = _US_DAY.fullmatch(cell)
    try:
        if found:
            month, day, year = map(int, found.groups())
            return date(year, month, day)
        return date.fromisoformat(cell)
    except ValueError as error:
        raise CellError(
            column,
            _("{cell} is not a date; write it as 2026-01-31 or 1/31/2026.").format(cell=cell),
        ) from error


def unit_of_cost(cell: str) -> str:
    unit = cell.lower().removeprefix("$/")
    if unit not in set(CostUnit):
        raise CellError(
            "unit",
            _("A cost is per {units}, not “{cell}”.").format(units=", ".join(CostUnit), cell=cell),
        )
    return unit


def known_mark(cell: str) -> str:
    if cell not in set(Mark):
        raise CellError(
            "mark",
            _("“{cell}” is not a mark; use one of: {mark}.").format(
                cell=cell, mark=", ".join(Mark)
            ),
        )
    return cell
