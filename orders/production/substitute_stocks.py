"""What may be weighed into a tank that is off: the recipe's own stocks, or any other on hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from formulas.engine.plant import correction as engine
from formulas.engine.problem import Stock
from formulas.engine_bridge import to_engine
from formulas.models import BaseStock
from orders.frozen.load_plan import FrozenStock
from orders.inventory.levels import suggested_lots
from orders.models import Batch, StockLot
from orders.planning.step_figures import step_figures
from orders.production.as_made import Weighed, lot_figures
from orders.production.steps import Step


@dataclass(frozen=True, slots=True)
class AvailableStocks:
    """Rows, engine stocks and frozen step figures by code, and what is on hand of them."""

    rows: Mapping[str, BaseStock]
    stocks: Mapping[str, Stock]
    figures: Mapping[str, FrozenStock]
    on_hand: tuple[engine.OnHand, ...]

    @property
    def aim(self) -> engine.Aim:
        """Least cost, unless a stock without a cost would count as free."""
        known = all(stock.cost_per_lb > 0 or stock.is_water for stock in self.stocks.values())
        return engine.Aim.COST if known else engine.Aim.MASS


def recipe_stocks(steps: Sequence[Step], today: date) -> AvailableStocks:
    """The stocks of the plan, as much as is left of them once the plan is weighed in."""
    figures = {step.code: step.figures for step in reversed(steps)}
    rows = {row.code: row for row in BaseStock.objects.filter(code__in=figures).for_engine()}
    stocks = {code: _priced(row, today) for code, row in rows.items()}
    return AvailableStocks(rows, stocks, figures, tuple(_left(steps, rows, stocks, today)))


def with_substitute_stocks(own: AvailableStocks, batch: Batch, today: date) -> AvailableStocks:
    """The same with every other stock that has a cost and a usable lot."""
    others = BaseStock.objects.active().exclude(code__in=own.rows).filter(lots__isnull=False)
    rows = {row.code: row for row in others.distinct().for_engine().with_metals()}
    lots = suggested_lots(list(rows.values()), today)
    stocks, figures, on_hand = {}, {}, []
    for code, row in rows.items():
        usable, stock = lots[row.pk], _priced(row, today)
        if not usable or stock.cost_per_lb <= 0:
            continue
        scale = max(row.scale_step_lb, batch.tank.scale_step_lb)
        stocks[code] = stock = replace(stock, scale_step_lb=scale)
        figures[code] = step_figures(row, stock)
        as_lot = with_figures(stock, Weighed(lot_figures(figures[code], usable[0]), 0.0))
        pounds = sum((lot.on_hand_lb for lot in usable), Decimal(0))
        on_hand.append(engine.OnHand(as_lot, float(pounds)))
    return AvailableStocks(
        {**own.rows, **{code: rows[code] for code in stocks}},
        {**own.stocks, **stocks},
        {**own.figures, **figures},
        (*own.on_hand, *on_hand),
    )


def with_figures(stock: Stock, each: Weighed) -> Stock:
    """The stock with the assay of the lot that was weighed."""
    return replace(
        stock,
        density_lb_per_gal=each.lot.density_lb_per_gal,
        analysis=each.lot.analysis,
        solutes=each.lot.solutes,
    )


def _priced(row: BaseStock, today: date) -> Stock:
    cost = row.cost_on(today)
    return to_engine(row, cost.per_lb() if cost else Decimal(0))


def _left(
    steps: Sequence[Step],
    rows: Mapping[str, BaseStock],
    stocks: Mapping[str, Stock],
    today: date,
) -> Iterator[engine.OnHand]:
    """What is left of each stock once the plan is weighed in, at the next lot's assay."""
    lots = suggested_lots(list(rows.values()), today)
    first = {step.code: step for step in reversed(steps)}
    for code, step in first.items():
        usable = lots[rows[code].pk]
        if not usable and not step.is_water:
            continue
        lot: StockLot | None = usable[0] if usable else None
        spoken_for = sum((s.left_lb for s in steps if s.code == code), Decimal(0))
        held = sum((each.on_hand_lb for each in usable), Decimal(0)) - spoken_for
        # Water from the main does not run out; the tank's size limits it.
        pounds = float(held) if usable else 1e6
        stock = with_figures(stocks[code], Weighed(lot_figures(step.figures, lot), 0.0))
        scale = max(stock.scale_step_lb, step.figures.scale_step_lb)
        yield engine.OnHand(replace(stock, scale_step_lb=scale), max(0.0, pounds))
