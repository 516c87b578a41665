"""The label preview: what the label of this very blend would say, as a draft for review.

A picture and a list, not a label: no lot, no guarantor, nothing to print on a container.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.answers.answer import SolvedAnswer
from formulas.answers.label import LabelAnswer
from formulas.answers.margin import MarginKept
from formulas.contracts.formulation import Formulation
from formulas.contracts.label_drafts import label_draft
from formulas.engine.label.grade_rules import GRADE_RULES, grade_rule
from formulas.engine.label.sources import chelated_parts, label_sources
from formulas.engine.problem import Stock
from formulas.engine.result import Share
from formulas.models import BaseStock
from orders.blend_page.label_picture import label_picture
from orders.blend_page.legal import spray_place
from orders.blend_page.prices import Price
from orders.blend_page.wish_form import WishForm

_WITH_MARGIN: Final = "guaranteed as asked; the blend aims higher, so that it holds"
#: The shares and contents of an answer are rounded to six places; a printed line never is finer.
_NOISE_PCT: Final = 1e-6


@dataclass(frozen=True, slots=True)
class LabelPreview:
    """The draft of the contract, whose grade rule was used, and why if there is none."""

    draft: LabelAnswer | None = None
    grade_rule: str = ""
    grade_source: str = ""
    package: str = ""
    problem: str = ""
    picture: SafeString | None = None


def label_preview(formulation: Formulation, form: WishForm, price: Price | None) -> LabelPreview:
    """One package of the blend on the page (in bulk: the whole order), as its load is planned.

    Every line holds for all weights that are on target. Without a planned load there is no label:
    the plain recipe would promise what no scale can keep.
    """
    answer = formulation.answer
    if not isinstance(answer, SolvedAnswer):
        return LabelPreview(problem=_("Follows as soon as there is a blend."))
    if price is None or price.load is None:
        return LabelPreview(problem=price.problem if price else _("Follows with the price."))
    load = price.load
    place = spray_place(form)
    state = place.address.state if place is not None else None
    jurisdiction = state if state in GRADE_RULES else None
    package = price.package
    stocks = {stock.code: stock for stock in formulation.problem.stocks}
    shares = [Share(code, pct) for code, pct in load.shares_pct.items()]
    one = None if package is None or package.is_bulk else package
    body = {
        "analysis": {key: pct for key, pct in load.least_pct.items() if key != "N" and pct > 0},
        "promised": dict(price.promised_pct),
        "kind": "specialty",
        "sources": _sources(stocks, shares),
        "chelated": _within(chelated_parts(shares, stocks), load.least_pct),
        "density_lb_per_gal": load.density_lb_per_gal,
        "volume_gal": (answer.totals.volume_gal if one is None else float(one.fill_gal)),
    }
    if jurisdiction:
        body["jurisdiction"] = jurisdiction
    try:
        draft = label_draft(body)
        if changes := _held_back(draft, answer.margin):
            draft = label_draft(body | {"changes": changes})
    except BadInput as bad:
        return LabelPreview(problem=" ".join(bad.fields.values()) or bad.message)
    rule = grade_rule(jurisdiction)
    return LabelPreview(
        draft=draft,
        grade_rule=rule.name,
        grade_source=rule.source,
        package=_("the whole order") if one is None else one.name,
        picture=label_picture(draft),
    )


def _within(parts: Mapping[str, float], least_pct: Mapping[str, float]) -> dict[str, float]:
    """Chelated parts, none above what is sure of the whole."""
    return {key: min(pct, least_pct.get(key, 0.0)) for key, pct in parts.items()}


def _sources(stocks: Mapping[str, Stock], shares: Sequence[Share]) -> list[dict[str, Any]]:
    codes = [share.code for share in shares]
    rows = BaseStock.objects.filter(code__in=codes).values_list("code", "derived_from")
    terms = {code: [t.strip() for t in text.split(",") if t.strip()] for code, text in rows}
    return [
        {"name": source.name, "supplies": dict(source.supplies), "share_pct": source.share_pct}
        for source in label_sources(shares, stocks, terms)
    ]


def _held_back(draft: LabelAnswer, margin: MarginKept | None) -> list[dict[str, Any]]:
    """With a margin the label guarantees what was asked, not what the blend aims at."""
    guarantees = () if margin is None else margin.guarantees
    asked = {item.key: item.guarantee_pct for item in guarantees}
    return [
        {"key": line.key, "pct": asked[line.key], "reason": _WITH_MARGIN}
        for line in draft.guarantees
        if line.key in asked and line.pct > asked[line.key] + _NOISE_PCT
    ]
