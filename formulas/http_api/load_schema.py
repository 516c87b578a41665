"""Shapes of load plans, for the API's description only."""

from rest_framework import serializers

from formulas.engine.composition import ANALYSIS_KEYS
from formulas.engine.plant.load import USUAL_TOLERANCE_PCT, ScaleKind
from formulas.http_api.label_schema import LabelDraftShape
from formulas.http_api.schema import (
    FormulationBodyShape,
    FormulationFiguresShape,
    Shape,
    WarningShape,
    by_key,
)


class FineScaleShape(Shape):
    step_lb = serializers.FloatField(help_text="Its division.")
    max_lb = serializers.FloatField(help_text="The most it takes, the tolerance included.")


class HeelShape(Shape):
    volume_gal = serializers.FloatField()
    density_lb_per_gal = serializers.FloatField(
        required=False, help_text="Needed where it has contents; that of water otherwise."
    )
    analysis = by_key(
        "Percent by weight, nitrogen by form; empty is water. Keys: "
        + ", ".join(ANALYSIS_KEYS)
        + ".",
        required=False,
    )


class LoadShape(Shape):
    volume_gal = serializers.FloatField(
        help_text="What the tank holds at the end, heel included; replaces fill."
    )
    scale_step_lb = serializers.FloatField(
        required=False, help_text="Division of the main scale; replaces the stocks' own steps."
    )
    fine_scale = FineScaleShape(required=False)
    tolerance_pct = serializers.FloatField(
        required=False,
        help_text=f"Wanted, percent of each weight; default {USUAL_TOLERANCE_PCT:g}, 0 is one "
        "division.",
    )
    heel = HeelShape(required=False, help_text="What is in the tank already; absent: nothing.")
    capacity_gal = serializers.FloatField(
        required=False, help_text="The brim: no load on target is above it, if that can be had."
    )


class LoadPlanRequestShape(FormulationBodyShape):
    load = LoadShape()


class LoadStepShape(Shape):
    code = serializers.CharField()
    weight_lb = serializers.FloatField()
    tolerance_lb = serializers.FloatField(help_text="On target this far up and down.")
    scale = serializers.ChoiceField(choices=[kind.value for kind in ScaleKind])
    division_lb = serializers.FloatField()


class PlannedLoadShape(Shape):
    steps = LoadStepShape(many=True, help_text="In charging order.")
    tolerance_pct = serializers.FloatField(
        help_text="Of each weight, rounded down to divisions, at least one; 0: one each."
    )
    analysis = by_key("Of the full tank as aimed, heel included.")
    least_pct = by_key("The least of each content over all weights on target together.")
    most_pct = by_key("The most of each content over all weights on target together.")
    slow_release_pct = serializers.FloatField(allow_null=True)
    density_lb_per_gal = serializers.FloatField()
    volume_gal = serializers.FloatField()
    least_gal = serializers.FloatField()
    net_weight_lb = serializers.FloatField()
    cost = serializers.CharField(help_text="Of what is charged; the heel costs nothing.")
    room_cost_per_gal = serializers.CharField(help_text="What the room adds to the cost.")
    gap = serializers.FloatField(help_text="Relative distance to the best not ruled out.")
    label = LabelDraftShape(  # type: ignore[assignment] # a JSON key
        help_text="Of what every load weighed on target holds."
    )
    findings = WarningShape(many=True)


class InTheWayShape(WarningShape):
    field = serializers.CharField(
        required=False, allow_null=True, help_text="Path of the figure in the way."
    )
    nearest = serializers.FloatField(required=False, help_text="The nearest that can be made.")
    stock = serializers.CharField(required=False, help_text="Whose scale is too coarse.")
    division_lb = serializers.FloatField(required=False)
    finer_lb = serializers.FloatField(required=False, help_text="The division that would do.")


class LoadPlanAnswerShape(FormulationFiguresShape):
    load = PlannedLoadShape(allow_null=True)
    findings = InTheWayShape(many=True, help_text="What is in the way where there is no load.")
