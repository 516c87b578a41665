"""Load plans over HTTP; the same code as the command."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from blendshop.roles import SEES_COST, role_permission
from formulas.contracts.formulation import catalogue_for
from formulas.contracts.load_plans import plan_load
from formulas.http_api.contract import ContractView, described
from formulas.http_api.load_schema import LoadPlanAnswerShape, LoadPlanRequestShape


@described(
    "load_plan",
    "Plan a tank load",
    "A formulation in a tank: weights in whole divisions of its scales and how far each may be "
    "off, so that for all weights on target together every wish, every printed line and the "
    "volume hold, with what is in the tank already counted in. Stateless. Costs are inside, so "
    "it needs the role rep, formulator or office.",
    request=LoadPlanRequestShape,
    answer=LoadPlanAnswerShape,
    examples={
        "A tote on a one-pound scale": {
            "targets": [{"nutrient": "N", "min": 24}, {"nutrient": "K2O", "min": 3}],
            "slow_release_pct": {"min": 50},
            "load": {"volume_gal": 265, "scale_step_lb": 1},
        },
        "Two scales and a heel": {
            "targets": [{"nutrient": "N", "min": 20}, {"nutrient": "Fe", "min": 0.1}],
            "load": {
                "volume_gal": 530,
                "scale_step_lb": 5,
                "fine_scale": {"step_lb": 0.1, "max_lb": 100},
                "tolerance_pct": 0.5,
                "heel": {
                    "volume_gal": 15,
                    "density_lb_per_gal": 10.6,
                    "analysis": {"N.urea": 12},
                },
            },
        },
    },
)
class LoadPlanView(ContractView):
    computes = True
    permission_classes = (role_permission(*SEES_COST),)

    def answer(self, body: Any) -> Mapping[str, Any]:
        catalogue = catalogue_for(body, timezone.localdate())
        return plan_load(body, catalogue=catalogue).contract_json()
