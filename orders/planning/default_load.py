"""The load a blend is quoted for, before anybody knows in which tank and with what it is made.

The smallest active tank that holds the quantity, else equal loads of the largest; that tank's
scales and wanted tolerance, typical analyses of the stocks, an empty tank. Where those scales are
too coarse for the blend, the next tank that can weigh it. Pure reading.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from blendshop.plant_steps import NotSetUp, PlantStep
from formulas.answers.wish import Wish
from formulas.engine import problem as engine
from formulas.engine.plant.load import LoadQuestion
from formulas.engine.result import Share
from orders.frozen.load_plan import LoadPromise
from orders.frozen.quoted_load import QuotedLoad
from orders.models import OrderLine, Tank

#: Equal loads are asked for in hundredths of a gallon, rounded up so that together they suffice.
_STEPS_A_GAL: Final = 100


@dataclass(frozen=True, slots=True)
class DefaultLoad:
    """``loads`` equal loads of ``volume_gal`` gallons each, in ``tank``."""

    tank: Tank
    loads: int
    volume_gal: Decimal

    @property
    def is_below_smallest(self) -> bool:
        """The tank cannot blend so little alone; it waits for other orders of the same blend."""
        return self.volume_gal < self.tank.smallest_gal

    def question(
        self,
        problem: engine.BlendProblem,
        recipe: tuple[Share, ...] | None,
        *,
        printed_pct: Mapping[str, float],
        density_correction: float = 1.0,
    ) -> LoadQuestion:
        """One of the loads as a question for the engine; what is asked is the caller's."""
        return LoadQuestion(
            problem=problem,
            volume_gal=float(self.volume_gal),
            recipe=recipe,
            scale=self.tank.load_scale,
            tolerance_pct=self.tank.tolerance_pct,
            printed_pct=printed_pct,
            capacity_gal=float(self.tank.capacity_gal),
            density_correction=density_correction,
        )


def tanks_in_use() -> tuple[Tank, ...]:
    """The active tanks, the smallest first; NotSetUp when there is none."""
    tanks = tuple(Tank.objects.filter(active=True).order_by("capacity_gal", "name"))
    if not tanks:
        raise NotSetUp(
            _("No blending tank is in use: the office sets one under First steps, Tanks."),
            PlantStep.TANKS,
        )
    return tanks


def default_load(volume_gal: Decimal, tanks: Sequence[Tank]) -> DefaultLoad:
    """The load or loads of a quantity above 0, among ``tanks_in_use()``.

    Of the tanks that hold it, one that can also blend so little is taken before one that cannot.
    """
    return default_loads(volume_gal, tanks)[0]


def default_loads(volume_gal: Decimal, tanks: Sequence[Tank]) -> tuple[DefaultLoad, ...]:
    """The default load, then the same in each other tank, for where its scales are too coarse.

    Tanks that hold the quantity at once and can blend so little, the smallest first; those that
    hold it and cannot; at last equal loads in the smaller ones, the largest of them first.
    """
    holding = [tank for tank in tanks if tank.capacity_gal >= volume_gal]
    holding.sort(key=lambda tank: tank.smallest_gal > volume_gal)
    smaller = [tank for tank in reversed(tanks) if tank.capacity_gal < volume_gal]
    return (
        *(DefaultLoad(tank, 1, volume_gal) for tank in holding),
        *(_in_equal_loads(tank, volume_gal) for tank in smaller),
    )


def _in_equal_loads(tank: Tank, volume_gal: Decimal) -> DefaultLoad:
    loads = math.ceil(volume_gal / tank.capacity_gal)
    each = math.ceil(volume_gal * _STEPS_A_GAL / loads)
    return DefaultLoad(tank, loads, Decimal(each) / _STEPS_A_GAL)


def promised_problem(
    promised: LoadPromise,
    wished: Wish,
    stocks: Sequence[engine.Stock],
    rules: Sequence[engine.CompatibilityRule],
) -> engine.BlendProblem:
    """Everything a load has to keep, as a question about ``stocks``: those of the recipe.

    What a customer accepted is a recipe: a plan moves its shares, and no other stock comes in.
    """
    bounds = dict.fromkeys([*promised.minima_pct, *promised.maxima_pct])
    slow = (promised.slow_release_min_pct, promised.slow_release_max_pct)
    return engine.BlendProblem(
        stocks=tuple(stocks),
        wishes=tuple(
            engine.NutrientWish(key, promised.minima_pct.get(key), promised.maxima_pct.get(key))
            for key in bounds
        ),
        slow_release=None if slow == (None, None) else engine.SlowReleaseWish(*slow),
        stock_limits=_share_limits(wished, {stock.code for stock in stocks}),
        rules=tuple(rules),
        smallest_charge_pct=wished.smallest_charge_pct or 0.0,
    )


def _share_limits(wished: Wish, used: Set[str]) -> tuple[engine.StockLimit, ...]:
    """Wished limits on stocks of the recipe, and shares that were fixed among other wishes.

    A recipe that was only typed is what the weights stay near, not a limit on each of them.
    """
    limits = [
        engine.StockLimit(limit.code, limit.min_pct, limit.max_pct) for limit in wished.stock_limits
    ]
    if wished.asks_beside_recipe:
        limits += [engine.StockLimit(fixed.code, fixed.pct, fixed.pct) for fixed in wished.recipe]
    return tuple(limit for limit in limits if limit.code in used)


def quoted_load(line: OrderLine) -> QuotedLoad | None:
    """The default load an order's line was priced for, as frozen; None of before there was one."""
    return line.price_breakdown.load
