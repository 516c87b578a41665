"""Why no whole scale steps will do, in words."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _

from formulas.engine.plant.not_weighable import (
    Amount,
    CoarseStep,
    NarrowWindow,
    NotWeighable,
    Obstacle,
)
from formulas.engine.problem import BlendProblem
from formulas.engine.wishes import WishKind
from formulas.wording.limits import limits_words

#: Digits of a figure that a person asked for: all of them.
_ALL = ".10g"


def not_weighable_words(refused: NotWeighable) -> str:
    """What is in the way of weights that keep every guarantee, and what would do instead."""
    return " ".join([_in_the_way(refused), *remedies_words(refused)])


def remedies_words(refused: NotWeighable) -> Iterator[str]:
    """One sentence for each window that would have to be wider, each scale that would be finer."""
    for window in refused.windows:
        yield window_words(window)
    for step in refused.coarse_steps:
        yield coarse_step_words(step)


def window_words(window: NarrowWindow) -> str:
    """``N from 24 to 24 leaves no room for the scale: at most 24.07 can be made.``"""
    name = _("slow release") if window.limit.kind is WishKind.SLOW_RELEASE else window.limit.key
    asked, nearest = format(window.asked, _ALL), format(window.nearest, _ALL)
    if window.other is None:
        words = _at_least_words() if window.limit.at_least else _at_most_words()
        return words.format(name=name, asked=asked, nearest=nearest)
    other = format(window.other, _ALL)
    low, high = (asked, other) if window.limit.at_least else (other, asked)
    can = (nearest, other) if window.limit.at_least else (other, nearest)
    return _(
        "{name} from {low} to {high} leaves no room for the scale: the narrowest window that can "
        "be made is {can_low} to {can_high}."
    ).format(name=name, low=low, high=high, can_low=can[0], can_high=can[1])


def _at_least_words() -> str:
    return _(
        "{name} at least {asked} leaves no room for the scale: {nearest} at least can be made."
    )


def _at_most_words() -> str:
    return _("{name} at most {asked} leaves no room for the scale: {nearest} can be made.")


def coarse_step_words(step: CoarseStep) -> str:
    """``FEEDTA needs a finer scale: steps of 0.5 lb would do, 5 lb do not.``"""
    figures = {"finer": format(step.finer_lb, _ALL), "step": format(step.division_lb, _ALL)}
    if step.code is None:
        return _(
            "The load needs a finer scale: steps of {finer} lb would do, {step} lb do not."
        ).format(**figures)
    return _("{stock} needs a finer scale: steps of {finer} lb would do, {step} lb do not.").format(
        stock=step.code, **figures
    )


def _in_the_way(refused: NotWeighable) -> str:
    cannot_hold = ", ".join(_names(refused.problem, refused))
    if refused.obstacle is Obstacle.WISH:
        return _("No blend holds these together: {limits}.").format(limits=cannot_hold)
    if refused.obstacle is Obstacle.HEEL:
        return _("On top of what is in the tank no blend holds these together: {limits}.").format(
            limits=cannot_hold
        )
    if refused.coarsest is None:
        return _("This recipe cannot be weighed at any step; cannot hold: {limits}.").format(
            limits=cannot_hold
        )
    return _(
        "The scale steps are too coarse for this batch (the coarsest is {step} lb for {stock}); "
        "cannot hold: {limits}."
    ).format(
        step=format(refused.coarsest.scale_step_lb, "g"),
        stock=refused.coarsest.code,
        limits=cannot_hold,
    )


def _names(problem: BlendProblem, refused: NotWeighable) -> Iterator[str]:
    yield from limits_words(problem, refused.cannot_hold)
    if refused.amount is not None:
        yield _amount_words(refused.amount)


def _amount_words(amount: Amount) -> str:
    words = (
        _("the volume {asked} within {pct} %")
        if amount.unit == "gal"
        else _("the mass {asked} within {pct} %")
    )
    return words.format(asked=format(amount.asked, "g"), pct=format(amount.tolerance_pct, "g"))
