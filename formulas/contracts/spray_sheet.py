"""The spray sheet contract: product and rate in, what to measure out and what it costs back."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from blendshop.money import unit_price
from formulas.answers.spray import SprayAnswer
from formulas.contracts.formulation_answer import PLACES, notice_of
from formulas.contracts.nitrogen_total import forms_only
from formulas.contracts.strict_json import LARGEST_NUMBER, Node, Refusals
from formulas.engine.field.spray import SprayRequest
from formulas.engine.field.spray import spray_sheet as worked_out
from formulas.engine.problem import BadProblem
from formulas.engine_bridge import exact


def spray_sheet(body: Any) -> SprayAnswer:
    """Answer a spray-sheet request; BadInput names every refused field.

    ``cost_per_1000sqft`` is None without ``cost_per_gal``; tank and area figures are None where
    no tank or no amount on hand was given.
    """
    refusals = Refusals()
    node = Node(body, "", refusals)
    if refusals.fields:
        raise refusals.error()
    cost_per_gal = node.cost("cost_per_gal")
    carrier_gal = node.number("carrier_gal_per_1000sqft", required=True)
    density = node.number("density_lb_per_gal", required=True)
    if not node.has("analysis"):
        refusals.add("analysis", "Is missing.")
    analysis = forms_only(node.numbers("analysis"), refusals)
    # What was refused while reading is named already: stand-ins that offend nothing keep the
    # engine's list to the rest.
    request = SprayRequest(
        analysis={"N.urea": 100.0} if refusals.covers("analysis") else analysis,
        density_lb_per_gal=LARGEST_NUMBER if density is None else density,
        carrier_gal_per_1000sqft=LARGEST_NUMBER if carrier_gal is None else carrier_gal,
        n_rate_lb_per_1000sqft=node.number("n_rate_lb_per_1000sqft"),
        product_fl_oz_per_1000sqft=node.number("product_fl_oz_per_1000sqft"),
        tank_gal=node.number("tank_gal"),
        on_hand_gal=node.number("on_hand_gal"),
        air_temp_f=node.number("air_temp_f"),
        solutes=node.numbers("solutes"),
        triazone_n_pct=node.number("triazone_n_pct") or 0.0,
    )
    node.done()
    try:
        sheet = worked_out(request)
    except BadProblem as bad:
        for error in bad.errors:
            if not refusals.covers(error.field):
                refusals.add(error.field, error.message)
    if refusals.fields:
        raise refusals.error()
    figures = {
        name: round(value, PLACES) if isinstance(value, float) else value
        for name, value in asdict(sheet).items()
        if name != "cautions"
    }
    cost = None
    if cost_per_gal is not None:
        cost = unit_price(cost_per_gal * exact(sheet.product_gal_per_1000sqft))
    return SprayAnswer(
        **figures,
        cost_per_1000sqft=cost,
        cautions=tuple(notice_of(finding) for finding in sheet.cautions),
    )
