"""The spray sheet of the blend on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.utils.translation import gettext as _

from blendshop.errors import BadInput
from formulas.answers.answer import BlendFigures, Notice
from formulas.answers.spray import SprayAnswer
from formulas.contracts.formulation import spray_sheet
from formulas.engine.field.osmotic_load import dissolved_pct, triazone_n_pct
from formulas.engine.problem import Stock
from formulas.engine.result import Blend
from orders.blend_page.prices import Price
from orders.blend_page.wish_form import WishForm

#: Paths of the spray contract and the fields they come from.
_FIELD_OF: Final = {
    "n_rate_lb_per_1000sqft": "n_rate",
    "carrier_gal_per_1000sqft": "carrier",
    "tank_gal": "tank",
    "air_temp_f": "air",
}


@dataclass(frozen=True, slots=True)
class Spray:
    """Figures of the contract, price per 1000 sq ft and cautions; or why there are none."""

    sheet: SprayAnswer | None = None
    price_per_1000sqft: Decimal | None = None
    covered_by: str = ""
    cautions: tuple[Notice, ...] = ()
    problem: str = ""


def spray_for(
    answer: BlendFigures, blend: Blend, stocks: Sequence[Stock], form: WishForm, price: Price
) -> Spray:
    """Work out one application; a refused figure is said at its field."""
    cleaned = form.cleaned_data
    if any(name not in cleaned for name in _FIELD_OF.values()):
        return Spray(problem=_("Correct the marked figure to see the sheet."))
    if not answer.analysis.get("N"):
        return Spray(problem=_("The sheet goes by nitrogen, and this blend holds none."))
    package, breakdown = price.package, price.breakdown
    one = None if package is None or package.is_bulk else package
    body: dict[str, Any] = {path: cleaned[field] for path, field in _FIELD_OF.items()}
    body["analysis"] = answer.analysis
    body["density_lb_per_gal"] = answer.totals.density_lb_per_gal
    body["solutes"] = dissolved_pct(blend.shares, stocks)
    body["triazone_n_pct"] = triazone_n_pct(blend.shares, stocks)
    body["on_hand_gal"] = answer.totals.volume_gal if one is None else float(one.fill_gal)
    try:
        sheet = spray_sheet(body)
    except BadInput as bad:
        for path, message in bad.fields.items():
            form.add_error(_FIELD_OF.get(path), message)
        return Spray(problem=" ".join(bad.fields.values()) or bad.message)
    return Spray(
        sheet=sheet,
        price_per_1000sqft=None if breakdown is None else breakdown.price_per_1000sqft,
        covered_by=_("the whole order") if one is None else _("one {name}").format(name=one.name),
        cautions=sheet.cautions,
    )
