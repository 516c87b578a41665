"""The stocks of a question as arrays, assembled once for a catalogue.

``contents`` has one row a stock and one column for each of ``TABLE_KEYS``, percent by weight.
Stocks sorted by code are a table of their own, because a permuted catalogue is the same program.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats, Indices, Mask
from formulas.engine.composition import (
    NITROGEN_FORMS,
    NUTRIENTS,
    OTHER_INGREDIENTS,
    SLOW_FORMS,
)
from formulas.engine.problem import Stock
from formulas.engine.work.once import once_per_tuple

#: Columns of a content table, in label order.
TABLE_KEYS: Final = (*NUTRIENTS[:1], *NITROGEN_FORMS, *NUTRIENTS[1:], *OTHER_INGREDIENTS)
TABLE_COLUMN: Final = {key: column for column, key in enumerate(TABLE_KEYS)}
N_COLUMN: Final = TABLE_COLUMN["N"]
_FORM_COLUMNS: Final = [TABLE_COLUMN[form] for form in NITROGEN_FORMS]
SLOW_COLUMNS: Final = [TABLE_COLUMN[form] for form in SLOW_FORMS]
SLOW_ROW: Final = len(TABLE_KEYS)
ONES_ROW: Final = SLOW_ROW + 1


@dataclass(frozen=True, slots=True)
class StockTable:
    """Arrays of one tuple of stocks, one entry (or row) a stock in its order; not to be changed.

    ``rows`` are the columns of ``contents`` as rows, then ``SLOW_ROW`` (slowly available nitrogen)
    and ``ONES_ROW``. ``position`` is where a code stands, ``by_code`` the positions in the order
    of the codes.
    """

    stocks: tuple[Stock, ...]
    contents: Floats
    rows: Floats
    cost_per_lb: Floats
    min_pct: Floats
    max_pct: Floats
    is_water: Mask
    position: Mapping[str, int]
    by_code: Indices


@once_per_tuple
def stock_table(stocks: tuple[Stock, ...]) -> StockTable:
    """The arrays of these stocks."""
    codes = [stock.code for stock in stocks]
    by_code = sorted(range(len(stocks)), key=codes.__getitem__)
    contents = _contents(stocks)
    slow_n = contents[:, SLOW_COLUMNS].sum(axis=1)
    return StockTable(
        stocks=stocks,
        contents=_kept(contents),
        rows=_kept(np.vstack([contents.T, slow_n, np.ones(len(stocks))])),
        cost_per_lb=_kept(np.array([stock.cost_per_lb for stock in stocks], dtype=float)),
        min_pct=_kept(np.array([stock.min_pct for stock in stocks], dtype=float)),
        max_pct=_kept(np.array([stock.max_pct for stock in stocks], dtype=float)),
        is_water=np.array([stock.is_water for stock in stocks], dtype=bool),
        position={code: i for i, code in enumerate(codes)},
        by_code=np.array(by_code, dtype=np.int32),
    )


@once_per_tuple
def in_code_order(stocks: tuple[Stock, ...]) -> tuple[Stock, ...]:
    """The same stocks sorted by code, always as the same tuple."""
    return tuple(sorted(stocks, key=lambda stock: stock.code))


def in_stock_order(stocks: tuple[Stock, ...], by_code: Floats) -> Floats:
    """Figures in the order of the codes, shape (n,), in the stocks' own order."""
    figures = np.empty(len(stocks))
    figures[stock_table(stocks).by_code] = by_code
    return figures


def content_table(stocks: Sequence[Stock]) -> Floats:
    """Contents in percent by weight, shape (stocks, ``len(TABLE_KEYS)``), N derived; read only."""
    return stock_table(stocks).contents if isinstance(stocks, tuple) else _contents(stocks)


def _contents(stocks: Sequence[Stock]) -> Floats:
    table = np.zeros((len(stocks), len(TABLE_KEYS)))
    rows, columns, values = [], [], []
    for row, stock in enumerate(stocks):
        for key, content in stock.analysis.items():
            rows.append(row)
            columns.append(TABLE_COLUMN[key])
            values.append(content)
    table[rows, columns] = values
    table[:, N_COLUMN] = table[:, _FORM_COLUMNS].sum(axis=1)
    return table


def _kept(values: Floats) -> Floats:
    values.flags.writeable = False
    return values
