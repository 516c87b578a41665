"""What each wish costs in the selling price: a usual step more, a usual step less."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from blendshop.money import money
from formulas.contracts.field_paths import field_of
from formulas.contracts.formulation import Formulation
from formulas.contracts.formulation_answer import wish_of
from formulas.contracts.wish_costs import moved_wishes_of
from formulas.engine.blend.wish_costs import MovedWish, StepStatus
from orders.blend_page.page_wish import PageWish
from orders.blend_page.prices import Price, Pricer
from orders.blend_page.wish_place import Origin, Unit, WishPlace
from orders.blend_page.wording import figure_words, place_words
from orders.models import Package
from orders.quoting.requests import WishedBlend


@dataclass(frozen=True, slots=True)
class WishPrice:
    """A wish a step away, and by how much the price differs there.

    Both are None where there is no such blend (``is_out_of_reach``) or it was not found out,
    ``per_package`` also in bulk.
    """

    words: str
    to: str
    per_gal: Decimal | None
    per_package: Decimal | None
    is_out_of_reach: bool


@dataclass(frozen=True, slots=True)
class WishPrices:
    """Those of a blend, in the package it is priced in."""

    package: Package | None
    rows: tuple[WishPrice, ...]


def wish_prices_of(formulation: Formulation, asked: PageWish, pricer: Pricer) -> WishPrices | None:
    """Each step formulated again and priced, its room for weighing as the blend's own.

    Wishes of the law and of the tanks cannot be typed and are left out, as are those that neither
    step changes. None where there is nothing to say.
    """
    blend = formulation.blend
    if blend is None:
        return None
    moves = [
        (move, place)
        for move in moved_wishes_of(formulation)
        if (place := asked.place_of(field_of(formulation.request, move.wish))) is not None
        and place.origin in (Origin.TYPED, Origin.MARGIN)
        # A step of the material's cost is no step of the price that was typed.
        and place.unit is not Unit.PRICE
    ]
    own = WishedBlend(asked.wish, blend)
    wished = [_wished(formulation, asked, move) for move, _ in moves]
    *there, here = pricer.price_like(own, [*(each for each in wished if each), own])
    if here.breakdown is None:
        return None
    prices = iter(there)
    rows = [
        _row(move, place, next(prices) if each else None, here)
        for (move, place), each in zip(moves, wished, strict=True)
    ]
    told = {
        move.wish
        for (move, _), row in zip(moves, rows, strict=True)
        if row.per_gal or row.per_package or row.is_out_of_reach
    }
    kept = tuple(row for (move, _), row in zip(moves, rows, strict=True) if move.wish in told)
    return WishPrices(here.package, kept) if kept else None


def _wished(formulation: Formulation, asked: PageWish, move: MovedWish) -> WishedBlend | None:
    if move.blend is None:
        return None
    moved = wish_of(move.problem, formulation.request.own_limits)
    return WishedBlend(replace(moved, margin=asked.wish.margin), move.blend)


def _row(move: MovedWish, place: WishPlace, there: Price | None, here: Price) -> WishPrice:
    per_gal = per_package = None
    if there is not None and there.breakdown is not None and here.breakdown is not None:
        per_gal = money(there.breakdown.price_per_gal - here.breakdown.price_per_gal)
        pair = there.breakdown.price_per_package, here.breakdown.price_per_package
        if pair[0] is not None and pair[1] is not None:
            per_package = money(pair[0] - pair[1])
    return WishPrice(
        words=place_words(place),
        to=figure_words(place, round(place.asked + move.step, 6)),
        per_gal=per_gal,
        per_package=per_package,
        is_out_of_reach=move.status is StepStatus.OUT_OF_REACH,
    )
