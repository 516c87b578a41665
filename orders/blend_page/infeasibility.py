"""Out of reach, in the page's own words: what conflicts, how far each wish goes, what instead."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from formulas.answers.answer import AlternativeAnswer, OutOfReachAnswer, RelaxedWish, WishReach
from orders.blend_page.page_wish import PageWish
from orders.blend_page.wish_place import Origin
from orders.blend_page.wording import figure_words, place_words


@dataclass(frozen=True, slots=True)
class ReachRow:
    """How far one wish could go while all the others hold; ``best`` is empty if nowhere."""

    words: str
    asked: str
    best: str


@dataclass(frozen=True, slots=True)
class Relaxation:
    """One wish that gives way in an alternative; ``asked`` is empty where nothing was."""

    words: str
    asked: str
    to: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """A blend that can be had; ``take`` holds the fields to change, None if it cannot be typed.

    ``is_against_law`` where a limit of the law gives way, which nobody can take.
    """

    relaxations: tuple[Relaxation, ...]
    blend: AlternativeAnswer
    take: str | None
    is_against_law: bool


@dataclass(frozen=True, slots=True)
class Infeasibility:
    """Why there is no blend, and what could be had instead."""

    conflict: tuple[str, ...]
    reach: tuple[ReachRow, ...]
    alternatives: tuple[Alternative, ...]
    not_explained: str


def infeasibility_of(answer: OutOfReachAnswer, wish: PageWish) -> Infeasibility:
    """Conflict, reach and alternatives; alternatives are given without their costs."""
    found = answer.out_of_reach
    asked = {reach.field: reach.asked for reach in found.reach}
    in_conflict = set(found.conflict_fields)
    return Infeasibility(
        conflict=tuple(
            _conflict_words(words, field, asked, wish) for words, field in found.conflicting
        ),
        reach=tuple(_reach_row(reach, wish) for reach in found.reach if reach.field in in_conflict),
        alternatives=tuple(_alternative(each, asked, wish) for each in found.alternatives),
        not_explained=found.not_explained or "",
    )


def _alternative(
    found: AlternativeAnswer, asked: dict[str | None, float], wish: PageWish
) -> Alternative:
    places = [wish.place_of(item.field) for item in found.relaxed]
    fields = [place.field for place in places if place is not None and place.field]
    take = None
    if len(fields) == len(found.relaxed):
        moved = zip(fields, found.relaxed, strict=True)
        take = urlencode([(field, f"{item.to:.10g}") for field, item in moved])
    return Alternative(
        relaxations=tuple(_relaxation(item, asked.get(item.field), wish) for item in found.relaxed),
        blend=found.without_costs(),
        take=take,
        is_against_law=any(place is not None and place.origin is Origin.LAW for place in places),
    )


def _reach_row(reach: WishReach, wish: PageWish) -> ReachRow:
    place = wish.place_of(reach.field)
    if place is None:
        best = "" if reach.best is None else f"{reach.best:.4g}"
        return ReachRow(reach.wish, f"{reach.asked:.10g}", best)
    best = "" if reach.best is None else figure_words(place, reach.best, ".4g")
    return ReachRow(place_words(place), figure_words(place, reach.asked), best)


def _relaxation(item: RelaxedWish, asked: float | None, wish: PageWish) -> Relaxation:
    place = wish.place_of(item.field)
    if place is None:
        return Relaxation(item.wish, "" if asked is None else f"{asked:.10g}", f"{item.to:.10g}")
    was = "" if asked is None else figure_words(place, asked)
    return Relaxation(place_words(place), was, figure_words(place, item.to))


def _conflict_words(
    words: str, field: str | None, asked: dict[str | None, float], wish: PageWish
) -> str:
    """``total nitrogen at least 28 %``; facts of stocks and rules keep the contract's words."""
    place, figure = wish.place_of(field), asked.get(field)
    if place is None or figure is None:
        return words
    return f"{place_words(place)} {figure_words(place, figure, 'g')}"
