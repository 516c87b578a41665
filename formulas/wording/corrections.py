"""Why a tank cannot be corrected, and what it can be sold as, in words."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _

from formulas.engine.plant.correction import CannotCorrect
from formulas.engine.plant.correction_grade import BestGrade
from formulas.engine.plant.correction_reasons import NoRoom, Reason, TooLittle
from formulas.engine.problem import BlendProblem
from formulas.wording.limits import limits_words


def cannot_correct_words(refused: CannotCorrect) -> str:
    """The reason, then the best the tank can be sold as."""
    reason = " ".join(_reasons(refused.problem, refused.reason))
    return f"{reason} {_best_words(refused.problem, refused.best)}"


def _reasons(problem: BlendProblem, reason: Reason) -> Iterator[str]:
    if reason.broken_rules:
        broken = "; ".join(rule.sentence for rule in reason.broken_rules)
        yield _(
            "The tank already breaks a rule: {rules}. No addition mends that: hold the batch."
        ).format(rules=broken)
    if reason.no_room:
        words = _(" and ").join(_no_room_words(each) for each in reason.no_room)
        yield _("There is no room: {why}. What is in the tank cannot be taken out.").format(
            why=words
        )
    if reason.too_little:
        words = _(" and ").join(_too_little_words(each) for each in reason.too_little)
        yield _("Too little is on hand: it takes {what}.").format(what=words)
    if reason.coarsest is not None:
        yield _(
            "The scale steps are too coarse to hit every promise at once; the coarsest is "
            "{step} lb of {stock}."
        ).format(step=format(reason.coarsest.scale_step_lb, "g"), stock=reason.coarsest.name)
    if reason.limits:
        between = _(" or ") if reason.one_suffices else _(" together with ")
        yield _(
            "What is in the tank cannot be taken out, and no addition brings back {limits} beside "
            "the rest."
        ).format(limits=between.join(limits_words(problem, reason.limits)))


def _no_room_words(room: NoRoom) -> str:
    return _("the correction takes {needed} {unit} and the tank has {left} {unit} left").format(
        needed=format(room.needed, ",.1f"), left=format(room.left, ",.1f"), unit=room.unit
    )


def _too_little_words(short: TooLittle) -> str:
    return _("{missing} lb more of {stock} than the {on_hand} lb there").format(
        missing=format(short.missing_lb, ",.6g"),
        stock=short.name,
        on_hand=format(short.on_hand_lb, ",.6g"),
    )


def _best_words(problem: BlendProblem, best: BestGrade | None) -> str:
    if best is None:
        return _("It cannot be sold as any grade as it stands.")
    words = _("At best it can be sold as {grade}").format(grade=best.grade)
    if best.slow_release_pct is not None:
        words += _(" with {pct} % of its nitrogen slowly available").format(
            pct=format(best.slow_release_pct, "f")
        )
    if best.tank.additions:
        added = ", ".join(f"{each.weight_lb:g} lb {each.code}" for each in best.tank.additions)
        words += _(", after adding {additions}").format(additions=added)
    if best.above:
        above = ", ".join(limits_words(problem, best.above))
        words += _("; it is then outside {limits}").format(limits=above)
    return f"{words}."
