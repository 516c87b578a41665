"""The fields that ask a saved wish again."""

from __future__ import annotations

from decimal import Decimal

from formulas.answers.wish import CostPerGal, Fill, Wish
from formulas.engine.problem import Per
from orders.blend_page import fields as f
from orders.models import Package


def fields_of(
    wish: Wish, packages: tuple[Package, ...], default_package: Package | None
) -> dict[str, list[str]]:
    """Names and values of the page's fields."""
    typed: dict[str, list[str]] = {}
    for target in wish.targets:
        _put(typed, f.wish_field(target.nutrient, "min"), target.min)
        _put(typed, f.wish_field(target.nutrient, "max"), target.max)
    if wish.slow_release_pct is not None:
        _put(typed, "slow_min", wish.slow_release_pct.min)
        _put(typed, "slow_max", wish.slow_release_pct.max)
    for row, limit in enumerate(wish.stock_limits):
        typed[f.limit_field("code", row)] = [limit.code]
        _put(typed, f.limit_field("min", row), limit.min_pct)
        _put(typed, f.limit_field("max", row), limit.max_pct)
        typed["limit_rows"] = [str(row + 1)]
    for row, line in enumerate(wish.recipe):
        typed["mode"] = [f.BY_RECIPE]
        typed[f.recipe_field("code", row)] = [line.code]
        _put(typed, f.recipe_field("pct", row), line.pct)
        typed["recipe_rows"] = [str(row + 1)]
    if wish.margin is not None:
        typed["margin"] = ["on"]
        _put(typed, "margin_chance", 100 * wish.margin.chance)
    if wish.strongest is not None:
        typed["mode"] = [f.STRONGEST]
        typed["strongest"] = [wish.strongest]
    elif wish.cheapest_per is not Per.GAL:
        typed["cheapest_per"] = [wish.cheapest_per.value]
    if wish.exclude:
        typed["exclude"] = list(wish.exclude)
    _put(typed, "smallest_charge", wish.smallest_charge_pct)
    _put(typed, "most_stocks", wish.most_stocks)
    if wish.cost_per_gal is not None:
        typed |= _ceiling_fields(wish.cost_per_gal)
    return typed | _fill_fields(wish.fill, packages, default_package)


def _ceiling_fields(ceiling: CostPerGal) -> dict[str, list[str]]:
    """The price that was asked for, to be worked back anew; else what the material may cost."""
    if ceiling.price is None or not ceiling.price_per:
        return {f.MATERIAL_MAX: [f"{ceiling.max:.10g}"]}
    return {
        f.PRICE_ASKED: [format(ceiling.price, ".2f")],
        f.PRICE_ASKED_PER: [ceiling.price_per],
    }


def _fill_fields(
    fill: Fill | None, packages: tuple[Package, ...], default_package: Package | None
) -> dict[str, list[str]]:
    """The saved volume in whole packages, the default one first; bulk if none fits."""
    if fill is None or not fill.volume_gal:
        return {}
    volume = Decimal(repr(fill.volume_gal))
    first = [default_package] if default_package is not None else []
    for package in [*first, *packages]:
        if not package.is_bulk and volume % package.fill_gal == 0:
            return {"package": [package.code], "quantity": [str(int(volume / package.fill_gal))]}
    bulk = next((package for package in packages if package.is_bulk), None)
    if bulk is not None and volume == int(volume):
        return {"package": [bulk.code], "quantity": [str(int(volume))]}
    return {}


def _put(typed: dict[str, list[str]], name: str, value: float | None) -> None:
    if value is not None:
        typed[name] = [f"{value:.10g}"]
