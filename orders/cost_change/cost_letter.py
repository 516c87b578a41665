"""New costs from a file: lines of the stock table whose field is ``cost``."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from blendshop.csv_upload import decode
from formulas.models import BaseStock
from formulas.stocks.table.cells import CellError, amount_in, unit_of_cost
from formulas.stocks.table.fields import COST
from formulas.stocks.table.table import Line, read_lines
from orders.cost_change.actions.proposing import NewCost

#: In the column of the unit: the value is by how many percent the cost rises.
PERCENT = "%"


@dataclass(frozen=True, slots=True)
class LetterError:
    """What is wrong in a line of the file, the header being line 1."""

    line: int
    message: str


def read_letter(
    data: bytes, stocks: dict[str, BaseStock], costs_today: dict[str, NewCost]
) -> tuple[dict[str, NewCost], list[LetterError]]:
    """The new costs of a file by code, and every line that cannot be read.

    ``stocks`` are those of the catalogue, ``costs_today`` what they cost. An empty unit is the one
    the stock is bought in. BadInput if the file is no table at all.
    """
    found: dict[str, NewCost] = {}
    wrong: list[LetterError] = []
    for line in read_lines(decode(data)):
        try:
            found[line.code] = _cost(line, stocks, costs_today, seen=found)
        except CellError as error:
            wrong.append(LetterError(line.number, error.message))
    return found, wrong


def risen(today: NewCost, by_pct: Decimal) -> NewCost:
    """What a cost of today becomes when it rises by so many percent, to four places."""
    amount = round(today.amount * (100 + by_pct) / 100, 4)
    return NewCost(amount, today.unit, by_pct)


def _cost(
    line: Line,
    stocks: dict[str, BaseStock],
    today: dict[str, NewCost],
    *,
    seen: Collection[str],
) -> NewCost:
    if line.code in seen:
        raise CellError("code", _("{code} stands above already.").format(code=line.code))
    if line.field != COST:
        raise CellError(
            "field",
            _("{field} is no cost; other figures go to the table of the base stocks.").format(
                field=line.field or _("An empty field")
            ),
        )
    if line.code not in stocks:
        raise CellError("code", _("There is no stock {code}.").format(code=line.code or "–"))
    if line.unit.strip() == PERCENT:
        return _risen(line, today)
    bought_in = today[line.code].unit if line.code in today else ""
    return NewCost(amount_in(line.value), unit_of_cost(line.unit or bought_in))


def _risen(line: Line, today: dict[str, NewCost]) -> NewCost:
    if line.code not in today:
        raise CellError("unit", _("{code} has no cost that could rise.").format(code=line.code))
    negative = line.value.startswith("-")
    by_pct = amount_in(line.value.removeprefix("-").removeprefix("+"))
    by_pct = -by_pct if negative else by_pct
    if not -100 <= by_pct <= 1000:
        raise CellError("value", _("A cost rises by -100 to 1,000 percent."))
    return risen(today[line.code], by_pct)
