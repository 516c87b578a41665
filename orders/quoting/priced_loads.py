"""The default load of a blend, planned with room: what its material costs is what it weighs.

The one place where a price meets a plan. Blend page, quantity table, draft, sent quote and
reorder all come through here, so for one load they weigh, and cost, the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import TypeVar

from django.conf import settings
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from blendshop.figures.readers import house
from blendshop.money import ZERO, money, unit_price
from formulas.engine.plant.load import LoadQuestion, LoadStep, PlannedLoad
from formulas.engine.plant.not_weighable import NotWeighable, Obstacle
from formulas.engine.plant.with_room import plan_if_room, plan_with_room
from formulas.engine.problem import BadProblem, BlendProblem
from formulas.engine.result import EngineFailure, Share
from formulas.engine.work.effort import TooLarge, TooLate
from formulas.engine_bridge import Catalogue, exact
from formulas.wording.weighing import not_weighable_words
from orders.frozen.quoted_load import QuotedLoad, QuotedWeighing
from orders.models import Tank
from orders.planning.default_load import DefaultLoad, default_loads

AnswerT = TypeVar("AnswerT")


class NotPlannedYet(BadInput):
    """The request ended before the load was planned; asked again it may well have a price."""


@dataclass(frozen=True, slots=True)
class PricedLoads:
    """The default loads of one blend at any quantity, each planned once.

    ``problem`` is what was promised, ``recipe`` what the weights stay near. ``printed_pct`` are
    label lines that were promised already and ``density_correction`` what a batch measured, both
    of a saved revision: its later loads keep and follow them.
    """

    problem: BlendProblem
    recipe: tuple[Share, ...]
    catalogue: Catalogue
    tanks: tuple[Tank, ...]
    printed_pct: Mapping[str, float] = field(default_factory=dict)
    density_correction: float = 1.0
    _planned: dict[Decimal, QuotedLoad] = field(default_factory=dict, compare=False, repr=False)

    def of(self, volume_gal: Decimal) -> QuotedLoad:
        """The load or loads of a quantity; BadInput in a sentence when it cannot be weighed.

        Where the scales of the default load's tank are too coarse, the next tank that can weigh
        it. A wish that no scale of the plant can keep has no price: it could only be made as
        something else than what was quoted, and what is in the way is said of the default load.
        """
        if volume_gal not in self._planned:
            self._planned[volume_gal] = self._first_weighed(volume_gal)
        return self._planned[volume_gal]

    def _first_weighed(self, volume_gal: Decimal) -> QuotedLoad:
        first, *others = default_loads(volume_gal, self.tanks)
        found = self._asked(first, _answer)
        if not isinstance(found, NotWeighable):
            return _quoted(first, found, self.catalogue)
        too_coarse = [first.tank.name]
        for load in others if found.obstacle is Obstacle.WEIGHING else ():
            if plan := self._asked(load, _answer_if_room):
                quoted = _quoted(load, plan, self.catalogue)
                return replace(quoted, too_coarse=tuple(too_coarse))
            too_coarse.append(load.tank.name)
        raise _refused(first, not_weighable_words(found))

    def put_right_by(self, density_correction: float) -> PricedLoads:
        """The same loads planned at another measured density over the modelled one."""
        return replace(self, density_correction=density_correction, _planned={})

    @property
    def minima_pct(self) -> Mapping[str, float]:
        """What is promised at least, percent by weight."""
        wishes = self.problem.wishes
        return {wish.nutrient: wish.min_pct for wish in wishes if wish.min_pct is not None}

    @property
    def largest_gal(self) -> Decimal:
        """What the largest tank holds."""
        return Decimal(self.tanks[-1].capacity_gal)

    def _asked(self, load: DefaultLoad, answer: Callable[[_Asked], AnswerT]) -> AnswerT:
        question = load.question(
            self.problem,
            self.recipe,
            printed_pct=self.printed_pct,
            density_correction=self.density_correction,
        )
        try:
            return answer(_Asked(repr(question), question))
        except BadProblem as error:
            raise _refused(load, str(error)) from error
        except EngineFailure as error:
            raise _refused(load, _("The solver gave no trustworthy plan.")) from error
        except TooLate as error:
            message = _(
                "No price yet: the load of {volume} was not planned within {seconds} seconds."
                " Ask again in a moment."
            ).format(volume=_volume(load), seconds=settings.REQUEST_SECONDS)
            raise NotPlannedYet(message, fields={"quantity": message}) from error
        except TooLarge as error:
            raise _refused(
                load, _("It takes more work than one load may. Wish for fewer stocks.")
            ) from error


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question that can be looked up: ``key`` is all of it in text."""

    key: str
    question: LoadQuestion = field(compare=False)


@lru_cache(maxsize=256)
def _answer(asked: _Asked) -> PlannedLoad | NotWeighable:
    """The plan of a question, or why there is none; a plan depends on nothing else.

    One wish is asked for again and again: the parts of a blend page come one by one, a draft is
    priced when it is saved, looked at and sent.
    """
    try:
        return plan_with_room(asked.question)
    except NotWeighable as refused:
        return refused


@lru_cache(maxsize=256)
def _answer_if_room(asked: _Asked) -> PlannedLoad | None:
    """The same without the reasons, which are told of the default load alone."""
    return plan_if_room(asked.question)


def _refused(load: DefaultLoad, why: str) -> BadInput:
    message = _("No price: {tank} cannot weigh {volume} of this blend. {why}").format(
        tank=load.tank.name, volume=_volume(load), why=why
    )
    return BadInput(message, fields={"quantity": message})


def _volume(load: DefaultLoad) -> str:
    return house().volume(load.volume_gal, 0 if load.volume_gal % 1 == 0 else 1)


def _quoted(load: DefaultLoad, plan: PlannedLoad, catalogue: Catalogue) -> QuotedLoad:
    cost = sum((_cost(step, catalogue) for step in plan.steps), ZERO)
    tank = load.tank
    return QuotedLoad(
        tank=tank.name,
        loads=load.loads,
        volume_gal=load.volume_gal,
        scale_step_lb=tank.scale_step_lb,
        fine_step_lb=tank.fine_step_lb,
        fine_max_lb=tank.fine_max_lb,
        tolerance_pct=tank.tolerance_pct,
        reached_pct=plan.tolerance_pct,
        is_below_smallest=load.is_below_smallest,
        steps=tuple(
            QuotedWeighing(
                code=step.code,
                name=catalogue.names[step.code],
                weight_lb=step.weight_lb,
                tolerance_lb=step.tolerance_lb,
                scale=step.scale,
            )
            for step in plan.steps
        ),
        made_gal=plan.volume_gal,
        mass_lb=plan.net_weight_lb,
        density_lb_per_gal=plan.density_lb_per_gal,
        analysis=plan.analysis,
        slow_release_pct=plan.slow_release_pct,
        least_pct=plan.least_pct,
        cost=money(cost),
        room_cost_per_gal=unit_price(exact(plan.room_cost_per_gal)),
    )


def _cost(step: LoadStep, catalogue: Catalogue) -> Decimal:
    return exact(step.weight_lb) * catalogue.cost_per_lb[step.code]
