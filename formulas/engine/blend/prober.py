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
from formulas.engine.blend.programs import Floats, Limits, Optimum
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
        self._without: dict[Wish, Optimum | None] = {}

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
            asked, limits = self._asked(wishes)
            if any_will_do and (known := self._known(limits, asked)) is not None:
                return known
            if self.model.binary_column and not self._is_large:
                try:
                    return self._by_branching(wishes, limits, asked, cost, any_will_do=any_will_do)
                except SearchTooLarge:
                    self._is_large = True
        if self._session is None:
            self._session = Session(self.model.program(self.model.limits()))
        self._session.set_limits(self.model.limits(wishes))
        self._session.set_cost(cost)
        return self._session.run()

    def best_without(self, wish: Wish, cost: Floats) -> Optimum | None:
        """``best`` of all wishes of the model but one; ``cost`` is always the same for a wish."""
        if wish not in self._without:
            others = [other for other in self.model.wishes if other is not wish]
            self._without[wish] = self.best(others, cost)
        return self._without[wish]

    def fewest_stocks(self, wishes: Iterable[Wish], more_than: int) -> int | None:
        """The least number of stocks above ``more_than`` that meets these wishes.

        None where no number does. Raises ``SearchTooLarge``.
        """
        wishes = tuple(wishes)
        asked, limits = self._asked(wishes)
        if not self._is_possible(wishes, limits, asked):
            return None
        for count in range(more_than + 1, self._n):
            if self._is_possible(wishes, limits, replace(asked, most_stocks=count)):
                return count
        return self._n

    @property
    def looks_at_all_choices(self) -> bool:
        """Whether the best recipe is found by looking at all choices of stocks together."""
        return bool(self.model.binary_column) and self._searching.looks_at_all(self._problem)

    @property
    def _n(self) -> int:
        return len(self.model.stocks)

    @property
    def _searching(self) -> ChoiceSearch:
        if self._search is None:
            self._search = ChoiceSearch(self._problem, self._plain, self._proved)
        return self._search

    def _asked(self, wishes: tuple[Wish, ...]) -> tuple[BlendProblem, Limits]:
        """The choices among these wishes, and the limits of the rest in the linear program."""
        limits = self._plain.limits(wish for wish in wishes if not is_choice(wish))
        return asked_choices(self._problem, wishes), limits

    def _is_possible(self, wishes: tuple[Wish, ...], limits: Limits, asked: BlendProblem) -> bool:
        if self._known(limits, asked) is not None:
            return True
        cost = np.zeros(self._n)
        return self._by_branching(wishes, limits, asked, cost, any_will_do=True) is not None

    def _known(self, limits: Limits, asked: BlendProblem) -> Optimum | None:
        """A recipe found before within these limits and choices, whatever it costs."""
        for shares in self._proved.recipes_within(self._plain.A, limits):
            if choices_are_kept(asked, self._plain.stocks, 100.0 * shares):
                return Optimum(0.0, shares, np.zeros(0), np.zeros(0))
        return None

    def _least_known(self, limits: Limits, asked: BlendProblem, cost: Floats) -> float:
        """The least ``cost`` (n,) of the recipes known to keep these, infinite if none is."""
        recipes = self._proved.recipes_within(self._plain.A, limits)
        costs = recipes @ cost
        for at in costs.argsort():
            if choices_are_kept(asked, self._plain.stocks, 100.0 * recipes[at]):
                return float(costs[at])
        return np.inf

    def _by_branching(
        self,
        wishes: tuple[Wish, ...],
        limits: Limits,
        asked: BlendProblem,
        cost: Floats,
        *,
        any_will_do: bool,
    ) -> Optimum | None:
        search, cost = self._searching, cost[: self._n]
        known = np.inf if any_will_do else self._least_known(limits, asked, cost)
        if search.model is not self._plain:  # it has rows for rules as well
            limits = search.model.limits(wish for wish in wishes if not is_choice(wish))
        found = search.best(asked, limits, cost, known=known, any_will_do=any_will_do)
        if found is not None:
            self._proved.add_recipe(found.x[: self._n])
        return found
