"""The load a line is priced for: all of it for staff, for customers how it is weighed."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from blendshop.figures.writing import Figures
from orders.frozen.quoted_load import QuotedLoad


def load_words(load: QuotedLoad, figures: Figures) -> str:
    """``Priced for one load of 530 gal in Tank 2, weighed to 1 lb, on target ± 0.5 %.``"""
    asked = ngettext(
        "Priced for one load of {volume} in {tank}, weighed to {step}, on target ± {pct} %.",
        "Priced for {count} loads of {volume} each in {tank}, weighed to {step}, on target"
        " ± {pct} %.",
        load.loads,
    ).format(
        count=load.loads,
        volume=figures.volume(load.volume_gal, 0 if load.volume_gal % 1 == 0 else 1),
        tank=load.tank,
        step=_scale_words(load, figures),
        pct=figures.at_most(load.reached_pct, 2),
    )
    return " ".join([asked, *_notes(load, figures)])


def weighed_words(load: QuotedLoad, figures: Figures) -> str:
    """What a customer reads of it; the plant's tanks and scales are its own matter."""
    return _(
        "Each stock is weighed to within {pct} %, small ones to a division of the scale; what is"
        " promised holds for every such weight."
    ).format(pct=figures.at_most(load.reached_pct, 2))


def _scale_words(load: QuotedLoad, figures: Figures) -> str:
    """Divisions stay in the scale's own pounds."""
    main = _("{step} lb").format(step=figures.at_most(load.scale_step_lb, 3))
    if load.fine_step_lb is None or load.fine_max_lb is None:
        return main
    return _("{main} (to {step} lb up to {most} lb)").format(
        main=main,
        step=figures.at_most(load.fine_step_lb, 3),
        most=figures.at_most(load.fine_max_lb, 1),
    )


def _notes(load: QuotedLoad, figures: Figures) -> list[str]:
    notes = []
    if load.too_coarse:
        notes.append(
            _("The scales of {tanks} are too coarse for this blend.").format(
                tanks=", ".join(load.too_coarse)
            )
        )
    if load.reached_pct < load.tolerance_pct:
        notes.append(
            _("The wish leaves no more room than that; {pct} % was wanted.").format(
                pct=figures.at_most(load.tolerance_pct, 2)
            )
        )
    if load.is_below_smallest:
        notes.append(
            _("{tank} cannot blend so little alone: it has to be made with other orders.").format(
                tank=load.tank
            )
        )
    return notes
