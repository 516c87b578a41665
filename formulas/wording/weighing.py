"""Why no whole scale steps will do, in words."""

from __future__ import annotations

from django.utils.translation import gettext as _

from formulas.engine.plant.not_weighable import Amount, NotWeighable
from formulas.wording.limits import limits_words


def not_weighable_words(refused: NotWeighable) -> str:
    """What is in the way of weights that keep every guarantee."""
    names = [*limits_words(refused.problem, refused.cannot_hold)]
    if refused.amount is not None:
        names.append(_amount_words(refused.amount))
    cannot_hold = ", ".join(names)
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


def _amount_words(amount: Amount) -> str:
    words = (
        _("the volume {asked} within {pct} %")
        if amount.unit == "gal"
        else _("the mass {asked} within {pct} %")
    )
    return words.format(asked=format(amount.asked, "g"), pct=format(amount.tolerance_pct, "g"))
