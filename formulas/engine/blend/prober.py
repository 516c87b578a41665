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
from formulas.engine.blend.programs import Floats, Optimum
from formulas.engine.blend.proved import Proved
from formulas.engine.problem import BlendProblem


class Prober:
    """Whether a selection of the wishes of ``model`` can be had, and the best recipe within it.

    ``plain`` is the linear program of ``problem`` without its choices.
    """

    def __init__(
        self, problem: BlendProblem, plain: Model, model: Model, proved: Proved | None = None
    ) -> None:
        self.model = model
        self._proved = Proved() if proved is None else proved
        self._problem = problem
        self._plain = plain
        self._session: Session | None = None
        self._search: ChoiceSearch | None = None
        self._is_large = False

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
        if not cost[self._n :].any():
            asked = asked_choices(self._problem, wishes)
            if any_will_do and (known := self._known(wishes, asked)) is not None:
                return known
            if self.model.binary_column and not self._is_large:
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
        if not self._is_possible(wishes, asked):
            return None
        for count in range(more_than + 1, self._n):
            if self._is_possible(wishes, replace(asked, most_stocks=count)):
                return count
        return self._n

    @property
    def _n(self) -> int:
        return len(self.model.stocks)

    def _is_possible(self, wishes: tuple[Wish, ...], asked: BlendProblem) -> bool:
        if self._known(wishes, asked) is not None:
            return True
        return self._by_branching(wishes, asked, np.zeros(self._n), any_will_do=True) is not None

    def _known(self, wishes: Iterable[Wish], asked: BlendProblem) -> Optimum | None:
        """A recipe found before that keeps these wishes and choices, whatever it costs."""
        for shares in self._within(wishes):
            if choices_are_kept(asked, self._plain.stocks, 100.0 * shares):
                return Optimum(0.0, shares, np.zeros(0), np.zeros(0))
        return None

    def _within(self, wishes: Iterable[Wish]) -> Floats:
        limits = self._plain.limits(wish for wish in wishes if not is_choice(wish))
        return self._proved.recipes_within(self._plain.A, limits)

    def _least_known(self, wishes: Iterable[Wish], asked: BlendProblem, cost: Floats) -> float:
        """The least ``cost`` (n,) of the recipes known to keep these, infinite if none is."""
        recipes = self._within(wishes)
        costs = recipes @ cost
        for at in costs.argsort():
            if choices_are_kept(asked, self._plain.stocks, 100.0 * recipes[at]):
                return float(costs[at])
        return np.inf

    def _by_branching(
        self, wishes: tuple[Wish, ...], asked: BlendProblem, cost: Floats, *, any_will_do: bool
    ) -> Optimum | None:
        if self._search is None:
            self._search = ChoiceSearch(self._problem, self._plain, self._proved)
        limits = self._search.model.limits(wish for wish in wishes if not is_choice(wish))
        cost = cost[: self._n]
        known = np.inf if any_will_do else self._least_known(wishes, asked, cost)
        found = self._search.best(asked, limits, cost, known=known, any_will_do=any_will_do)
        if found is not None:
            self._proved.add_recipe(found.x[: self._n])
        return found
