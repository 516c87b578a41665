"""The only door between the database's Decimals and the engine's floats.

Costs become floats in ``cost_as_float`` and come back in ``unit_cost``; physical figures become
Decimals, digit for digit as they are printed, in ``exact``. Nothing else converts between them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt
from django.utils.translation import gettext as _

from blendshop.money import unit_price
from blendshop.plant_steps import NotSetUp, PlantStep
from formulas import reference
from formulas.catalogue_version.keeping import KeptByVersion
from formulas.engine import problem as engine
from formulas.engine.mark import Mark
from formulas.models import BaseStock
from formulas.models import CompatibilityRule as RuleRow

Floats = npt.NDArray[np.float64]
Ticks = npt.NDArray[np.int64]
#: Below this a double holds ten-thousandths to far less than a millionth of one.
_SURE_BELOW: Final = 10_000.0


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Stocks and rules as the engine takes them, with their costs kept as Decimals.

    ``left_out`` says of each stock that may not be used why: retired, short, without a cost; its
    id and, if it has one, its cost stand beside the others. Stocks that came with a request
    have no id. ``cost_per_lb`` is unrounded.
    """

    stocks: tuple[engine.Stock, ...]
    cost_per_lb: Mapping[str, Decimal]
    rules: tuple[engine.CompatibilityRule, ...]
    stock_ids: Mapping[str, int] = field(default_factory=dict)
    left_out: Mapping[str, str] = field(default_factory=dict)

    @property
    def names(self) -> dict[str, str]:
        """Name of each stock by its code."""
        return {stock.code: stock.name for stock in self.stocks}

    @property
    def codes(self) -> dict[int, str]:
        """Code of each stock by its database id."""
        return {pk: code for code, pk in self.stock_ids.items()}


def load_catalogue(today: date, *, include_short: bool = False) -> Catalogue:
    """The catalogue of a day; one query while nobody changed it, and the same object for all.

    Retired stocks, stocks without a cost on that day and, unless ``include_short``, stocks
    marked as short are left out, with the reason in ``left_out``.
    """
    return _KEPT((today, include_short))


def _read_catalogue(asked: tuple[date, bool]) -> Catalogue:
    """From the tables, in five queries however many stocks and costs there are."""
    today, include_short = asked
    stocks: list[engine.Stock] = []
    costs: dict[str, Decimal] = {}
    ids: dict[str, int] = {}
    left_out: dict[str, str] = {}
    for row in BaseStock.objects.for_engine_on(today):
        entry = row.cost_on(today)
        ids[row.code] = row.pk
        if entry is not None:
            costs[row.code] = entry.per_lb()
        if row.retired_on is not None:
            left_out[row.code] = f"{row.name} is retired since {row.retired_on.isoformat()}."
        elif row.short and not include_short:
            left_out[row.code] = f"{row.name} is short at the moment."
        elif entry is None:
            left_out[row.code] = f"{row.name} has no cost on {today.isoformat()}."
        else:
            stocks.append(to_engine(row, costs[row.code]))
    return Catalogue(
        stocks=tuple(stocks),
        cost_per_lb=MappingProxyType(costs),
        rules=saved_rules(),
        stock_ids=MappingProxyType(ids),
        left_out=MappingProxyType(left_out),
    )


_KEPT: Final = KeptByVersion(_read_catalogue)


def require_stocks(catalogue: Catalogue) -> None:
    """NotSetUp, in a sentence, when the catalogue of the day offers no stock at all."""
    if catalogue.stocks:
        return
    if not catalogue.stock_ids:
        why = _(
            "The catalogue has no base stock yet: the office or a formulator takes them in under"
            " First steps, Stocks and their costs."
        )
    elif not catalogue.cost_per_lb:
        why = _(
            "No stock has a cost yet: the office or a formulator sets them under First steps,"
            " Stocks and their costs."
        )
    else:
        why = _("No stock can be used today: each is retired, short or without a cost.")
    raise NotSetUp(why, PlantStep.STOCKS, fields={"stocks": why})


def to_engine(row: BaseStock, cost_per_lb: Decimal) -> engine.Stock:
    """A stock row (figures and traits prefetched) as the engine's stock, its density at 60 F."""
    return engine.Stock(
        code=row.code,
        name=row.name,
        density_lb_per_gal=row.density_at_60_f(),
        cost_per_lb=cost_as_float(cost_per_lb),
        analysis=row.analysis(),
        min_pct=row.min_pct,
        max_pct=row.max_pct,
        traits=frozenset(trait.code for trait in row.traits.all()),
        scale_step_lb=row.scale_step_lb,
        charging_rank=row.charging_rank,
        solutes=row.solutes_pct(),
    )


def saved_rules() -> tuple[engine.CompatibilityRule, ...]:
    """The active compatibility rules of the database, one query."""
    rows = RuleRow.objects.filter(active=True).select_related("trait_a", "trait_b")
    return tuple(
        engine.CompatibilityRule(
            trait_a=row.trait_a.code,
            trait_b=row.trait_b.code,
            effect=engine.Effect(row.effect),
            reason=row.reason,
            source=cited(row.source, row.mark),
            largest_pct=row.largest_pct,
            largest_ratio=row.largest_ratio,
            name_a=mid_sentence(row.trait_a.name),
            name_b=mid_sentence(row.trait_b.name),
        )
        for row in rows
    )


def shipped_rules() -> tuple[engine.CompatibilityRule, ...]:
    """The compatibility table that comes with the program; no database is read."""
    names = {trait.code: trait.name for trait in reference.traits()}
    return tuple(
        engine.CompatibilityRule(
            trait_a=rule.trait_a,
            trait_b=rule.trait_b,
            effect=rule.effect,
            reason=rule.reason,
            source=cited(rule.source.text, rule.source.mark),
            largest_pct=rule.largest_pct,
            largest_ratio=rule.largest_ratio,
            name_a=mid_sentence(names[rule.trait_a]),
            name_b=mid_sentence(names[rule.trait_b]),
        )
        for rule in reference.compatibility_rules()
    )


def mid_sentence(name: str) -> str:
    """A trait's name inside a sentence: "Urea-triazone" loses its capital, "EDTA iron" does not."""
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def cited(source: str, mark: str) -> str:
    """Source and mark in one line, the mark once ("common practice, no source" names both)."""
    return source if mark in source or mark == Mark.VERIFIED else f"{source} ({mark})"


def cost_as_float(cost_per_lb: Decimal) -> float:
    """Dollars per pound for the engine."""
    return float(cost_per_lb)


def unit_cost(cost: float) -> Decimal:
    """A cost the engine found, dollars per unit, rounded half up to four places."""
    return unit_price(Decimal(repr(cost)))


def unit_costs(costs: Floats) -> Ticks:
    """``unit_cost`` of many finite costs at once, in whole ten-thousandths of a dollar.

    The product with 10,000 is off by less than a millionth (costs below ``_SURE_BELOW``), so only
    what lies that near to a half has to be rounded by its digits.
    """
    scaled = costs * 10_000.0
    ticks = np.floor(scaled + 0.5)
    near_half = np.abs(scaled - np.floor(scaled) - 0.5) < 1e-6
    for place in np.flatnonzero(near_half | (np.abs(costs) >= _SURE_BELOW)).tolist():
        ticks[place] = int(unit_cost(float(costs[place])) * 10_000)
    return ticks.astype(np.int64)


def exact(figure: float) -> Decimal:
    """A physical figure with exactly the digits it prints with, for multiplying money."""
    return Decimal(repr(figure))


def figure_from_text(text: str) -> float:
    """A physical figure a person typed; ValueError unless it is a plain finite number."""
    if "_" in text or not math.isfinite(number := float(text)):
        raise ValueError(f"{text!r} is not a finite number.")
    return number
