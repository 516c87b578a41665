"""The label of a planned load: what every load weighed on target bears out, as a draft."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from formulas.answers.label import LabelAnswer
from formulas.contracts.formulation import Formulation
from formulas.contracts.label_drafts import draft_answer
from formulas.engine.density.reference_temperature import REFERENCE_F
from formulas.engine.label.guarantee import LabelBasis, draft_label
from formulas.engine.label.rules import Kind
from formulas.engine.label.sources import label_sources
from formulas.engine.plant.load import PlannedLoad
from formulas.engine.problem import NutrientWish
from formulas.models import BaseStock

#: A label reads contents in millionths of a percent and takes two more as there. What is sure of
#: a load is given so much less where that would lift a printed digit (the finest has four places).
_MILLION: Final = 1_000_000
_READ_UP: Final = 2
_FINEST_DIGIT: Final = 100
_FLOAT_NOISE: Final = 1e-3


def load_label(formulation: Formulation, planned: PlannedLoad) -> LabelAnswer:
    """A label draft of the full tank from the least that each content can be.

    A heel's own sources are not known and not named.
    """
    stocks = {stock.code: stock for stock in formulation.catalogue.stocks}
    draft = draft_label(
        LabelBasis(
            analysis={key: _surely(pct) for key, pct in planned.least_pct.items() if key != "N"},
            kind=Kind.SPECIALTY,
            sources=label_sources(planned.blend.shares, stocks, _terms(formulation, planned)),
            chelated={key: _surely(pct) for key, pct in planned.least_chelated_pct.items()},
            density_lb_per_gal=planned.density_lb_per_gal,
            volume_gal=planned.volume_gal,
            promised=_wished(formulation.request.problem.wishes),
        )
    )
    return draft_answer(draft, net_at_f=REFERENCE_F)


def _wished(wishes: Iterable[NutrientWish]) -> dict[str, float]:
    """The minima as wished, without any margin: what a primary nutrient prints."""
    found: dict[str, float] = {}
    for wish in wishes:
        if wish.min_pct:
            found[wish.nutrient] = max(wish.min_pct, found.get(wish.nutrient, 0.0))
    return found


def _terms(formulation: Formulation, planned: PlannedLoad) -> dict[str, list[str]]:
    """What each stock is derived from: the catalogue's terms, else the name it was sent with."""
    codes = [step.code for step in planned.steps]
    if formulation.request.brings_stocks:
        stocks = {stock.code: stock for stock in formulation.catalogue.stocks}
        return {code: [stocks[code].name] for code in codes if not stocks[code].is_water}
    rows = BaseStock.objects.filter(code__in=codes).values_list("code", "derived_from")
    return {code: [term.strip() for term in text.split(",") if term.strip()] for code, text in rows}


def _surely(pct: float) -> float:
    """A content so that no line of the label is read up from it."""
    millionths = math.floor(pct * _MILLION + _FLOAT_NOISE)
    if (millionths + _READ_UP) // _FINEST_DIGIT != millionths // _FINEST_DIGIT:
        millionths -= _READ_UP + 1
    return max(0, millionths) / _MILLION
