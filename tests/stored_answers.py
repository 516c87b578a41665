"""What a saved revision holds, where a test makes the row itself."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from formulas.answers.answer import RecipeLine, SolvedAnswer, Totals


def stored_answer(
    analysis: Mapping[str, float], shares: Mapping[str, float] | None = None
) -> dict[str, Any]:
    """The JSON of an answer that holds an analysis and percents by weight by code, at no cost."""
    none = Decimal("0.0000")
    answer = SolvedAnswer(
        recipe=tuple(
            RecipeLine(code=code, name=code, pct=pct, lb=pct / 10, gal=pct / 100, cost=None)
            for code, pct in (shares or {}).items()
        ),
        totals=Totals(
            mass_lb=10.0,
            volume_gal=1.0,
            density_lb_per_gal=10.0,
            cost=Decimal("0.00"),
            cost_per_lb=none,
            cost_per_gal=none,
        ),
        analysis=analysis,
        slow_release_pct=None,
        warnings=(),
        sensitivity=(),
        left_out=(),
    )
    return answer.to_json()
