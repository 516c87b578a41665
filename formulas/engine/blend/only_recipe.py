"""Whether an optimal recipe is the only one."""

from __future__ import annotations

from typing import Final

import numpy as np

from formulas.engine.blend.highs import Session
from formulas.engine.blend.programs import Limits, Optimum

#: Dollars per lb (or per percent) below which a reduced cost counts as zero.
TIE_TOLERANCE: Final = 1e-9


def is_only_recipe(session: Session, limits: Limits, optimum: Optimum) -> bool:
    """Whether nothing at a limit could leave it at no cost: then no other recipe is as good."""
    rows = np.abs(optimum.row_dual) <= TIE_TOLERANCE
    columns = np.abs(optimum.col_dual) <= TIE_TOLERANCE
    if np.count_nonzero(rows) + np.count_nonzero(columns) == len(rows):
        return True  # just the basis, which has as many members as there are rows
    at_limit_rows, at_limit_columns = session.nonbasic()
    rows &= at_limit_rows & (limits.row_upper > limits.row_lower)
    columns &= at_limit_columns & (limits.col_upper > limits.col_lower)
    return not (rows.any() or columns.any())
