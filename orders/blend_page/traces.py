"""The least of a stock that its scale can weigh, so that a page asks for no traces by itself.

A stock is used at least so much or not at all (``smallest_charge_pct``). Little is weighed on the
small scale of the tank that the order is made in, where there is one, else on the main scale.
Whoever types a smallest charge, also 0, has said it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from typing import Final

from formulas.engine.plant.scale_tolerance import ScaleClass, smallest_load_lb
from orders.blend_page import fields as f
from orders.blend_page.page_wish import PageWish, volume_gal
from orders.blend_page.wish_form import WishForm
from orders.models import Tank
from orders.planning.default_load import default_load

#: A gallon of water at 60 F, lb: what is lighter than any blend asks for no less than it has to.
_LEAST_LB_PER_GAL: Final = 8.337
#: Above this a share is no trace, however coarse the scale (our limit, no source).
_MOST_PCT: Final = 1.0
_DIGITS: Final = 2


def smallest_charge_of(tank: Tank, load_gal: float) -> float:
    """Percent by weight of a load of so many gallons, rounded up to two digits.

    2 lb on a small scale of 0.1 lb, in a tote of 265 gal: 0.091 %.
    """
    fine = tank.fine_scale
    if fine is not None:
        least_lb = smallest_load_lb(fine.step_lb, ScaleClass.III)
    else:
        least_lb = smallest_load_lb(tank.scale_step_lb, ScaleClass(tank.scale_class))
    pct = 100.0 * least_lb / (load_gal * _LEAST_LB_PER_GAL)
    steps = 10.0 ** (_DIGITS - 1 - math.floor(math.log10(pct)))
    return min(_MOST_PCT, math.ceil(pct * steps - 1e-9) / steps)


def usual_smallest_charge(form: WishForm) -> float | None:
    """What a valid form is answered with; None where one was typed, and for shares as typed."""
    cleaned = form.cleaned_data
    if cleaned["smallest_charge"] is not None or cleaned["mode"] == f.BY_RECIPE:
        return None
    tanks = form.options.tanks_or_none
    if not tanks:
        return None
    ordered = volume_gal(form.options.package(cleaned["package"]), cleaned)
    load = default_load(Decimal(repr(ordered)), tanks)
    return smallest_charge_of(load.tank, float(load.volume_gal))


def without_traces(asked: PageWish, smallest_pct: float) -> PageWish:
    """The wish with its stocks used at least so much or not at all."""
    return replace(asked, wish=replace(asked.wish, smallest_charge_pct=smallest_pct))
