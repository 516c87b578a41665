"""Formulations and spray sheets over HTTP; the same code as the commands and the blend page."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from blendshop.roles import SEES_COST, role_permission
from formulas.contracts.formulation import catalogue_for, spray_sheet
from formulas.contracts.spoken_formulation import formulate_spoken
from formulas.http_api.contract import ContractView, described
from formulas.http_api.schema import (
    FormulationAnswerShape,
    FormulationRequestShape,
    SpraySheetAnswerShape,
    SpraySheetRequestShape,
)


@described(
    "formulate",
    "Formulate a blend",
    "The cheapest (or strongest) blend that meets every wish, or which wishes conflict, "
    "how far each could go, and blends that can be made instead. Stateless. Costs are "
    "inside, so it needs the role rep, formulator or office. A wish may be said in one line "
    "instead; what is unclear in it is refused, and the answer says what it was taken for.",
    request=FormulationRequestShape,
    answer=FormulationAnswerShape,
    examples={
        "Half slow release": {
            "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3}],
            "slow_release_pct": {"min": 50},
            "fill": {"volume_gal": 265},
        },
        "Said in one line": {"line": "24-0-3 half slow, 0.1 Fe, 4 totes"},
        "A recipe evaluated on stocks of one's own": {
            "stocks": [
                {
                    "code": "A",
                    "density_lb_per_gal": 10.67,
                    "cost_per_lb": "0.1660",
                    "analysis": {"N.urea": 14, "N.ammoniacal": 7, "N.nitrate": 7},
                },
                {"code": "W", "density_lb_per_gal": 8.34, "cost_per_lb": "0", "traits": ["water"]},
            ],
            "recipe": [{"code": "A", "pct": 75}, {"code": "W", "pct": 25}],
            "fill": {"mass_lb": 2000},
        },
    },
)
class FormulationView(ContractView):
    computes = True
    permission_classes = (role_permission(*SEES_COST),)

    def answer(self, body: Any) -> Mapping[str, Any]:
        catalogue = catalogue_for(body, timezone.localdate())
        return formulate_spoken(body, catalogue=catalogue).contract_json()


@described(
    "spray_sheet",
    "Work out a spray sheet",
    "From a product and a rate per 1,000 sq ft: what to measure out, what a tank and the "
    "product on hand cover, what it costs, and the cautions with their sources. Stateless.",
    request=SpraySheetRequestShape,
    answer=SpraySheetAnswerShape,
    examples={
        "0.7 lb of N in 2 gal": {
            "analysis": {"N.urea": 7.84, "N.slow": 20.16},
            "density_lb_per_gal": 10.7,
            "n_rate_lb_per_1000sqft": 0.7,
            "carrier_gal_per_1000sqft": 2.0,
            "tank_gal": 200,
            "on_hand_gal": 265,
            "cost_per_gal": "4.10",
        }
    },
)
class SpraySheetView(ContractView):
    def answer(self, body: Any) -> Mapping[str, Any]:
        return spray_sheet(body).contract_json()
