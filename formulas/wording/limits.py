"""A limit of a question in words: ``N at least 24``.

The only place where limits get their words. Nothing is found by them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from formulas.engine.composition import NAMES
from formulas.engine.problem import COST_PLACES, BlendProblem
from formulas.engine.wishes import SLOW_RELEASE, WishId, WishKind, asked_of, largest_of

#: Digits of a figure that a person asked for: all of them.
_ALL: Final = ".10g"


def limit_words(problem: BlendProblem, wish: WishId) -> str:
    """A limit of a problem in words, with the figure it has there."""
    asked = asked_of(problem, wish)
    figure = "" if asked is None else format(asked, _ALL)
    match wish.kind:
        case WishKind.NUTRIENT | WishKind.SLOW_RELEASE | WishKind.STOCK_LIMIT | WishKind.OWN_LIMIT:
            return _share_words(wish, figure)
        case WishKind.MOST_STOCKS:
            count = round(asked or 0)
            return ngettext("at most {n} stock", "at most {n} stocks", count).format(n=count)
        case WishKind.COST_PER_GAL:
            return _("materials at most ${figure} a gallon").format(figure=_dollars(asked or 0.0))
        case WishKind.SMALLEST_CHARGE:
            return _("each stock at least {pct} % or not at all").format(pct=figure)
        case WishKind.LEFT_OUT:
            return _("{stock} left out").format(stock=wish.key)
        case WishKind.RULE:
            return problem.rules[wish.index or 0].sentence
        case WishKind.AIM:
            return _aim_words(problem, wish, asked or 0.0)


def contract_words(problem: BlendProblem, wish: WishId) -> str:
    """The same as contracts say it: in English, whatever language is spoken around."""
    with override("en"):
        return limit_words(problem, wish)


def limits_words(problem: BlendProblem, wishes: Iterable[WishId]) -> tuple[str, ...]:
    """Several limits of a problem in words."""
    return tuple(limit_words(problem, wish) for wish in wishes)


def _share_words(wish: WishId, figure: str) -> str:
    """A limit on the content of something, or on a stock."""
    subject = wish.key
    if wish.kind is WishKind.SLOW_RELEASE:
        subject, figure = _("slow release"), _("{pct} % of N").format(pct=figure)
    elif wish.kind is WishKind.OWN_LIMIT:
        figure = _("{pct} % (the stock's own limit)").format(pct=figure)
    elif wish.kind is WishKind.STOCK_LIMIT:
        figure = f"{figure} %"
    return _bounds(wish).format(subject=subject, figure=figure)


def _dollars(amount: float) -> str:
    """Cents, and what of a cent costs per gallon are printed with: ``3.2`` is 3.20."""
    whole, places = format(amount, f".{COST_PLACES}f").split(".")
    return f"{whole}.{places[:2]}{places[2:].rstrip('0')}"


def _bounds(wish: WishId) -> str:
    return _("{subject} at least {figure}") if wish.at_least else _("{subject} at most {figure}")


def _aim_words(problem: BlendProblem, wish: WishId, aim_pct: float) -> str:
    name = _("Slow release") if wish.key == SLOW_RELEASE else NAMES[wish.key]
    return _(
        "{name} would have to aim at {aim} % to keep its margin, above the largest {largest} %"
    ).format(name=name, aim=format(aim_pct, ".4g"), largest=format(largest_of(problem, wish), _ALL))
