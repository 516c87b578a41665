"""Where in a request the figure of a limit stands: ``targets.0.min``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from formulas.contracts.formulation_request import ParsedRequest
from formulas.engine.wishes import SLOW_RELEASE, Side, WishId, WishKind


def field_of(request: ParsedRequest, wish: WishId) -> str | None:
    """The path of a limit's figure in the request; None where the request holds none.

    A minimum that a margin has raised is named by the figure it was raised from.
    """
    return _PATHS[wish.kind](request, wish)


def _target(_: ParsedRequest, wish: WishId) -> str:
    return f"targets.{wish.index}.{wish.side.value}"


def _slow_release(_: ParsedRequest, wish: WishId) -> str:
    return f"slow_release_pct.{wish.side.value}"


def _stock_limit(request: ParsedRequest, wish: WishId) -> str:
    """Limits behind the request's own ones came from its ``recipe``."""
    index = wish.index or 0
    if index >= request.own_limits:
        return f"recipe.{index - request.own_limits}.pct"
    return f"stock_limits.{index}.{wish.side.value}_pct"


def _own_limit(request: ParsedRequest, wish: WishId) -> str | None:
    if not request.brings_stocks:
        return None
    codes = [stock.code for stock in request.problem.stocks]
    return f"stocks.{codes.index(wish.key)}.{wish.side.value}_pct"


def _left_out(request: ParsedRequest, wish: WishId) -> str:
    return f"exclude.{request.exclude.index(wish.key)}"


def _rule(request: ParsedRequest, wish: WishId) -> str | None:
    return f"rules.{wish.index}" if request.brings_rules else None


def _aim(request: ParsedRequest, wish: WishId) -> str | None:
    if wish.key == SLOW_RELEASE:
        return f"slow_release_pct.{Side.LEAST.value}"
    for index, target in enumerate(request.problem.wishes):
        if target.nutrient == wish.key and target.min_pct:
            return f"targets.{index}.{Side.LEAST.value}"
    return None


_PATHS: Final[Mapping[WishKind, Callable[[ParsedRequest, WishId], str | None]]] = {
    WishKind.NUTRIENT: _target,
    WishKind.SLOW_RELEASE: _slow_release,
    WishKind.STOCK_LIMIT: _stock_limit,
    WishKind.MOST_STOCKS: lambda *_: "most_stocks",
    WishKind.COST_PER_GAL: lambda *_: "cost_per_gal.max",
    WishKind.SMALLEST_CHARGE: lambda *_: "smallest_charge_pct",
    WishKind.OWN_LIMIT: _own_limit,
    WishKind.LEFT_OUT: _left_out,
    WishKind.RULE: _rule,
    WishKind.AIM: _aim,
}
