"""Whether a selection of wishes can be met, asked of the general search over yes/no columns.

The engine's own explanations branch on rules instead, so the two check each other.
"""

import numpy as np

from formulas.engine.blend.choices import with_choices
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import linear_model


class Possible:
    def __init__(self, problem):
        self._model = with_choices(linear_model(problem), problem)
        self.wishes = self._model.wishes
        self._session = Session(self._model.program(self._model.limits()))
        self._session.set_cost(np.zeros_like(self._model.cost))

    def __call__(self, wishes):
        self._session.set_limits(self._model.limits(wishes))
        return self._session.run() is not None

    def named(self, ids):
        chosen = [wish for wish in self.wishes if wish.id in ids]
        assert len(chosen) == len(ids)
        return chosen
