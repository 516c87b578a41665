"""Out of reach, in the page's own words: what conflicts, how far each wish goes, what instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final
from urllib.parse import urlencode

from formulas.answers.answer import AlternativeAnswer, OutOfReachAnswer, RelaxedWish, WishReach
from orders.blend_page.page_wish import PageWish
from orders.blend_page.prices import Price
from orders.blend_page.wish_place import Origin, Unit, WishPlace
from orders.blend_page.wording import figure_words, place_words, short_figure, short_words

#: Paths of what a customer asks of a blend; other limits are named where they conflict.
_PRIORITIES: Final = ("targets.", "slow_release_pct.", "cost_per_gal.")


@dataclass(frozen=True, slots=True)
class ReachRow:
    """How far one wish could go while all the others hold; ``best`` is empty if nowhere."""

    words: str
    asked: str
    best: str


@dataclass(frozen=True, slots=True)
class Relaxation:
    """One wish that gives way in an alternative; ``asked`` is empty where nothing was.

    ``short`` is its name, ``short_asked`` and ``short_to`` its figures, where there is little room.
    """

    words: str
    asked: str
    to: str
    short: str
    short_asked: str
    short_to: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """A blend that can be had; ``take`` holds the fields to change, None if it cannot be typed.

    ``kept`` are the contents, the price and what else of the conflict it keeps, in short.
    ``is_against_law`` where a limit of the law gives way, which nobody can take.
    """

    kept: tuple[str, ...]
    relaxations: tuple[Relaxation, ...]
    blend: AlternativeAnswer
    take: str | None
    is_against_law: bool


@dataclass(frozen=True, slots=True)
class Infeasibility:
    """Why there is no blend, and what could be had instead.

    ``is_about_price`` where a price that was asked for is in the conflict: the least price is of
    the recipes that were looked at, see ``formulas.engine.blend.cheapest_per``.
    """

    conflict: tuple[str, ...]
    reach: tuple[ReachRow, ...]
    alternatives: tuple[Alternative, ...]
    not_explained: str
    is_about_price: bool = False


def infeasibility_of(
    answer: OutOfReachAnswer, wish: PageWish, prices: Sequence[Price], least: Decimal | None
) -> Infeasibility:
    """Conflict, reach and alternatives; alternatives are given without their costs.

    ``prices`` are those of the alternatives and ``least`` is the least price that can be had: a
    price that was asked for is spoken of as a price, never as what the material costs.
    """
    found = answer.out_of_reach
    asked = {reach.field: reach.asked for reach in found.reach}
    for path, place in wish.places.items():
        if place.unit is Unit.PRICE:
            asked[path] = place.asked
    in_conflict = set(found.conflict_fields)
    return Infeasibility(
        conflict=tuple(
            _conflict_words(words, field, asked, wish) for words, field in found.conflicting
        ),
        reach=tuple(
            _reach_row(reach, wish, least) for reach in found.reach if reach.field in in_conflict
        ),
        alternatives=tuple(
            _alternative(each, asked, wish, found.conflict_fields, price)
            for each, price in zip(found.alternatives, prices, strict=True)
        ),
        not_explained=found.not_explained or "",
        is_about_price=any(
            place is not None and place.unit is Unit.PRICE
            for place in map(wish.place_of, found.conflict_fields)
        ),
    )


def _alternative(
    found: AlternativeAnswer,
    asked: dict[str | None, float],
    wish: PageWish,
    conflict: Sequence[str | None],
    price: Price,
) -> Alternative:
    moved_to = {item.field: _moved_to(item, wish, price) for item in found.relaxed}
    places = [wish.place_of(item.field) for item in found.relaxed]
    fields = [place.field for place in places if place is not None and place.field]
    take = None
    if len(fields) == len(found.relaxed) and None not in moved_to.values():
        moved = zip(fields, moved_to.values(), strict=True)
        take = urlencode([(field, f"{to:.10g}") for field, to in moved])
    return Alternative(
        kept=tuple(
            f"{short_words(place)} {short_figure(place, place.asked)}"
            for path, place in wish.places.items()
            if path not in moved_to
            and (path in conflict or path.startswith(_PRIORITIES))
            and _is_kept(place, wish, price)
        ),
        relaxations=tuple(
            _relaxation(item, moved_to[item.field], asked.get(item.field), wish)
            for item in found.relaxed
        ),
        blend=found.without_costs(),
        take=take,
        is_against_law=any(place is not None and place.origin is Origin.LAW for place in places),
    )


def _is_kept(place: WishPlace, wish: PageWish, price: Price) -> bool:
    """A price counts as it is printed for the blend, if it has one."""
    ceiling = wish.wish.cost_per_gal
    if place.unit is not Unit.PRICE or ceiling is None:
        return True
    found = price.per(ceiling.price_per)
    return found is not None and float(found) <= place.asked


def _moved_to(item: RelaxedWish, wish: PageWish, price: Price) -> float | None:
    """The figure to type: a price is that of the blend, None while it has none."""
    place = wish.place_of(item.field)
    if place is None or place.unit is not Unit.PRICE:
        return item.to
    found = None if wish.wish.cost_per_gal is None else price.per(wish.wish.cost_per_gal.price_per)
    return None if found is None else float(found)


def _reach_row(reach: WishReach, wish: PageWish, least: Decimal | None) -> ReachRow:
    place = wish.place_of(reach.field)
    if place is None:
        best = "" if reach.best is None else f"{reach.best:.4g}"
        return ReachRow(reach.wish, f"{reach.asked:.10g}", best)
    if place.unit is Unit.PRICE:
        best = "" if least is None else figure_words(place, float(least))
        return ReachRow(place_words(place), figure_words(place, place.asked), best)
    best = "" if reach.best is None else figure_words(place, reach.best, ".4g")
    return ReachRow(place_words(place), figure_words(place, reach.asked), best)


def _relaxation(
    item: RelaxedWish, to: float | None, asked: float | None, wish: PageWish
) -> Relaxation:
    place = wish.place_of(item.field)
    if place is None:
        was, now = "" if asked is None else f"{asked:.10g}", f"{item.to:.10g}"
        return Relaxation(item.wish, was, now, item.wish, was, now)
    return Relaxation(
        words=place_words(place),
        asked="" if asked is None else figure_words(place, asked),
        to="" if to is None else figure_words(place, to),
        short=short_words(place),
        short_asked="" if asked is None else short_figure(place, asked),
        short_to="" if to is None else short_figure(place, to),
    )


def _conflict_words(
    words: str, field: str | None, asked: dict[str | None, float], wish: PageWish
) -> str:
    """``total nitrogen at least 28 %``; facts of stocks and rules keep the contract's words."""
    place, figure = wish.place_of(field), asked.get(field)
    if place is None or figure is None:
        return words
    return f"{place_words(place)} {figure_words(place, figure, 'g')}"
