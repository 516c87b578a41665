"""One model asked about different selections of its wishes, as an explanation does dozens of times.

A recipe that was found once answers later questions as well: it shows that a selection which it
meets is possible, and bounds a search for something better. Both only spare work; whatever is
told to a person is checked against the question itself.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from formulas.engine.blend.branch_and_bound import ChoiceSearch, SearchTooLarge
from formulas.engine.blend.choices import asked_choices, choices_are_kept, is_choice
from formulas.engine.blend.highs import Session
from formulas.engine.blend.linear_program import Model, Wish
from formulas.engine.blend.programs import FEASIBILITY_TOLERANCE, Floats, Limits, Optimum
from formulas.engine.blend.supports import Rays
from formulas.engine.problem import BlendProblem


class Prober:
    """Whether a selection of the wishes of ``model`` can be had, and the best recipe within it.

    ``plain`` is the linear program of ``problem`` without its choices.
    """

    def __init__(
        self, problem: BlendProblem, plain: Model, model: Model, rays: Rays | None = None
    ) -> None:
        self.model = model
        self._rays = rays
        self._problem = problem
        self._plain = plain
        self._session: Session | None = None
        self._search: ChoiceSearch | None = None
        self._is_large = False
        self._recipes: list[Floats] = []

    def is_possible(self, wishes: Iterable[Wish]) -> bool:
        """Whether some recipe meets these wishes."""
        return self.best(wishes, np.zeros_like(self.model.cost), any_will_do=True) is not None

    def best(
        self, wishes: Iterable[Wish], cost: Floats, *, any_will_do: bool = False
    ) -> Optimum | None:
        """The recipe of least ``cost`` that meets ``wishes``; only its shares are meant.

        With ``any_will_do`` the first one found.
        """
        wishes = tuple(wishes)
        if self.model.binary_column and not self._is_large and not cost[self._n :].any():
            asked = asked_choices(self._problem, wishes)
            try:
                return self._by_branching(wishes, asked, cost, any_will_do=any_will_do)
            except SearchTooLarge:
                self._is_large = True
        if self._session is None:
            self._session = Session(self.model.program(self.model.limits()))
        self._session.set_limits(self.model.limits(wishes))
        self._session.set_cost(cost)
        return self._session.run()

    def fewest_stocks(self, wishes: Iterable[Wish], more_than: int) -> int | None:
        """The least number of stocks above ``more_than`` that meets these wishes.

        None where no number does. Raises ``SearchTooLarge``.
        """
        wishes = tuple(wishes)
        asked = asked_choices(self._problem, wishes)
        cost, most = np.zeros(self._n), self._n
        if self._by_branching(wishes, asked, cost, any_will_do=True) is None:
            return None
        for count in range(more_than + 1, most):
            limited = replace(asked, most_stocks=count)
            if self._by_branching(wishes, limited, cost, any_will_do=True) is not None:
                return count
        return most

    @property
    def _n(self) -> int:
        return len(self.model.stocks)

    def _by_branching(
        self, wishes: tuple[Wish, ...], asked: BlendProblem, cost: Floats, *, any_will_do: bool
    ) -> Optimum | None:
        if self._search is None:
            self._search = ChoiceSearch(self._problem, self._plain, self._rays)
        limits = self._search.model.limits(wish for wish in wishes if not is_choice(wish))
        known = self._known(limits, asked)
        objectives = [float(cost[: self._n] @ shares) for shares in known]
        if any_will_do and known:
            none = np.zeros(0)
            return Optimum(objectives[0], known[0], none, none)
        found = self._search.best(
            asked,
            limits,
            cost[: self._n],
            known=min(objectives, default=np.inf),
            any_will_do=any_will_do,
        )
        if found is not None:
            self._recipes.append(found.x[: self._n])
        return found

    def _known(self, limits: Limits, asked: BlendProblem) -> list[Floats]:
        """Recipes found before that keep these limits and choices."""
        if not self._recipes:
            return []
        x, m = np.array(self._recipes), self._plain.A.shape[0]
        rows = x @ self._plain.A.T
        slack = FEASIBILITY_TOLERANCE
        keeps = (
            (rows >= limits.row_lower[:m] - slack).all(axis=1)
            & (rows <= limits.row_upper[:m] + slack).all(axis=1)
            & (x >= limits.col_lower - slack).all(axis=1)
            & (x <= limits.col_upper + slack).all(axis=1)
        )
        stocks = self._plain.stocks
        return [each for each in x[keeps] if choices_are_kept(asked, stocks, 100.0 * each)]
