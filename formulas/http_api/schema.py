"""Shapes of the API, for its description. Reading is done by the one strict reader."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from formulas.engine.blend.wish_costs import StepStatus
from formulas.engine.composition import ANALYSIS_KEYS, WISH_KEYS
from formulas.engine.density.solutes import SOLUTES
from formulas.engine.problem import Effect, Per
from formulas.engine.result import Severity
from formulas.spoken_wish.characters import LONGEST_LINE


class Shape(serializers.Serializer[Any]):
    """A shape only: these serializers describe JSON and never save."""


def _pct(help_text: str = "", *, required: bool = False) -> serializers.FloatField:
    return serializers.FloatField(
        required=required, min_value=0, max_value=100, help_text=help_text
    )


def by_key(help_text: str, *, required: bool = True) -> serializers.DictField:
    """Numbers under keys of their own: an analysis, or metals by symbol."""
    return serializers.DictField(
        child=serializers.FloatField(), required=required, help_text=help_text
    )


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "pattern": r"^[0-9]{1,6}(\.[0-9]{1,12})?$"},
            {"type": "number", "minimum": 0, "maximum": 1_000_000},
        ],
        "description": 'Dollars: text such as "0.2150", or a number.',
    }
)
class DollarsField(serializers.DecimalField):
    """An amount as ``strict_json.Node.cost`` reads it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=18, decimal_places=12, min_value=0, **kwargs)


class StockShape(Shape):
    code = serializers.CharField()
    name = serializers.CharField(required=False)
    density_lb_per_gal = serializers.FloatField(help_text="At 60 °F.")
    cost_per_lb = DollarsField()
    analysis = by_key(
        "Percent by weight; nitrogen by form. Keys: " + ", ".join(ANALYSIS_KEYS) + ".",
        required=False,
    )
    min_pct = _pct("Every blend holds at least this share; default 0.")
    max_pct = _pct("Default 100.")
    traits = serializers.ListField(child=serializers.CharField(), required=False)
    scale_step_lb = serializers.FloatField(required=False)
    charging_rank = serializers.IntegerField(required=False)
    solutes = by_key(
        "What is dissolved in it, percent by weight, the rest being water; for the density of the "
        "blend. None given: the stock's volume is taken to add up. Keys: "
        + ", ".join(SOLUTES)
        + ".",
        required=False,
    )


class RuleShape(Shape):
    trait_a = serializers.CharField()
    trait_b = serializers.CharField()
    effect = serializers.ChoiceField(choices=[effect.value for effect in Effect])
    reason = serializers.CharField(required=False)
    source = serializers.CharField(required=False)  # type: ignore[assignment] # a JSON key
    largest_pct = _pct("Limit: largest share of the first, percent of the blend.")
    largest_ratio = serializers.FloatField(
        required=False, help_text="Limit: lb of the first per lb of the second."
    )


class TargetShape(Shape):
    nutrient = serializers.ChoiceField(choices=list(WISH_KEYS))
    min = _pct()
    max = _pct()


class RangeShape(Shape):
    min = _pct()
    max = _pct()


class StockLimitShape(Shape):
    code = serializers.CharField()
    min_pct = _pct()
    max_pct = _pct()


class FixedShareShape(Shape):
    code = serializers.CharField()
    pct = _pct(required=True)


class FillShape(Shape):
    volume_gal = serializers.FloatField(required=False)
    mass_lb = serializers.FloatField(required=False)


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "enum": ["cheapest"]},
            {
                "type": "object",
                "properties": {"strongest": {"type": "string", "enum": list(WISH_KEYS)}},
                "required": ["strongest"],
                "additionalProperties": False,
            },
            {
                "type": "object",
                "properties": {
                    "cheapest_per": {"type": "string", "enum": [per.value for per in Per]}
                },
                "required": ["cheapest_per"],
                "additionalProperties": False,
            },
        ]
    }
)
class ObjectiveField(serializers.JSONField):
    """``"cheapest"`` (per lb), ``{"cheapest_per": "gal"}`` or ``{"strongest": nutrient}``."""


class CostPerGalShape(Shape):
    max = serializers.FloatField(help_text="Dollars per US gallon, above 0.")
    price = serializers.FloatField(
        required=False, help_text="The selling price it was worked out from; kept, of no effect."
    )
    price_per = serializers.CharField(
        required=False, help_text="What that price is for: gal, or a kind of package."
    )


class AssaySpreadShape(Shape):
    strength_rsd_pct = serializers.FloatField(
        required=False, help_text="Moves all contents of a stock together, percent of each."
    )
    content_rsd_pct = by_key("Moves one content alone.", required=False)


class ScaleSpreadShape(Shape):
    absolute_lb = serializers.FloatField(required=False)
    relative_pct = serializers.FloatField(required=False)


class MarginRequestShape(Shape):
    chance = serializers.FloatField(
        help_text="Largest chance, a fraction up to 0.5, that a batch misses any guarantee."
    )
    usual_assay = AssaySpreadShape(required=False)
    assay = serializers.DictField(
        child=AssaySpreadShape(), required=False, help_text="By stock code."
    )
    scale = ScaleSpreadShape(required=False)


class GuaranteeMarginShape(Shape):
    key = serializers.CharField()
    guarantee_pct = serializers.FloatField()
    aim_pct = serializers.FloatField()
    expected_pct = serializers.FloatField()
    sigma_pct = serializers.FloatField()
    allowance_pct = serializers.FloatField(allow_null=True)
    chance_below_guarantee = serializers.FloatField()
    chance_deficient = serializers.FloatField(
        help_text="Of a batch below the guarantee less its allowance."
    )


class MarginAnswerShape(Shape):
    chance = serializers.FloatField()
    standard_deviations = serializers.FloatField(required=False)
    guarantees = GuaranteeMarginShape(many=True)
    chance_any_missed = serializers.FloatField(
        required=False, help_text="That any guarantee is missed, slow-release share included."
    )
    chance_deficient_any = serializers.FloatField(
        required=False, help_text="That any is missed by more than its allowance."
    )
    chance_index_low = serializers.FloatField(
        required=False,
        allow_null=True,
        help_text="That the primary nutrients found are below the index of those guaranteed.",
    )
    cost_per_lb = serializers.CharField(required=False)
    is_tight = serializers.BooleanField(required=False)
    aims_pct = serializers.DictField(child=serializers.FloatField(), required=False)
    reachable_without = serializers.BooleanField(required=False)


class FormulationBodyShape(Shape):
    stocks = StockShape(
        many=True, required=False, help_text="Replace the catalogue; nothing is then read from it."
    )
    rules = RuleShape(many=True, required=False, help_text="Replace the compatibility rules.")
    targets = TargetShape(many=True, required=False)
    slow_release_pct = RangeShape(required=False, help_text="Percent of total N.")
    stock_limits = StockLimitShape(many=True, required=False)
    recipe = FixedShareShape(
        many=True,
        required=False,
        help_text="Fixed shares; complete and without wishes it is only evaluated.",
    )
    exclude = serializers.ListField(child=serializers.CharField(), required=False)
    smallest_charge_pct = _pct("A stock is used at least this much or not at all.")
    most_stocks = serializers.IntegerField(required=False, min_value=1)
    cost_per_gal = CostPerGalShape(
        required=False, help_text="What the stocks of a gallon may cost, as totals print it."
    )
    objective = ObjectiveField(required=False)
    fill = FillShape(required=False, help_text="A volume or a mass; default 1 gal.")
    margin = MarginRequestShape(
        required=False, help_text="Minima are guarantees that hold in the batch as made."
    )


class FormulationRequestShape(FormulationBodyShape):
    line = serializers.CharField(
        required=False,
        max_length=LONGEST_LINE,
        help_text="The wish as one says it: 24-0-3 half slow, 0.1 Fe, 4 totes. It stands for the "
        "keys it means; a key that says the same beside it is refused. Without a size a tote is "
        "265 gal, a drum 55.",
    )


class RecipeLineShape(Shape):
    code = serializers.CharField()
    name = serializers.CharField()
    pct = serializers.FloatField()
    lb = serializers.FloatField()
    gal = serializers.FloatField()
    cost = serializers.CharField(help_text="Dollars and cents; the lines add up to the total.")


class TotalsShape(Shape):
    mass_lb = serializers.FloatField()
    volume_gal = serializers.FloatField()
    density_lb_per_gal = serializers.FloatField()
    cost = serializers.CharField()
    cost_per_lb = serializers.CharField()
    cost_per_gal = serializers.CharField()


class WarningShape(Shape):
    code = serializers.CharField()
    severity = serializers.ChoiceField(choices=[severity.value for severity in Severity])
    message = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment] # a JSON key


def _path() -> serializers.CharField:
    return serializers.CharField(
        allow_null=True,
        help_text="Path of the wish's figure in the request, such as targets.0.min; null where "
        "it has none there (own limits of catalogue stocks, catalogue rules).",
    )


class SensitivityShape(Shape):
    wish = serializers.CharField()
    field = _path()
    cost_per_unit = serializers.CharField(help_text="Dollars per lb of blend for one more unit.")


class WishStepShape(Shape):
    wish = serializers.CharField()
    field = _path()
    step = serializers.FloatField(help_text="By how much the figure was moved, in its own unit.")
    material_per_gal = serializers.CharField(
        allow_null=True,
        help_text="How much more the same request with the moved figure costs per gal, in dollars.",
    )
    status = serializers.CharField(
        help_text="One of " + ", ".join(status.value for status in StepStatus) + "."
    )


class LeftOutShape(Shape):
    code = serializers.CharField()
    reason = serializers.CharField()


class ReachShape(Shape):
    wish = serializers.CharField()
    field = _path()
    asked = serializers.FloatField()
    best = serializers.FloatField(allow_null=True)


class RelaxedShape(Shape):
    wish = serializers.CharField()
    field = _path()
    to = serializers.FloatField()


class BlendShape(Shape):
    recipe = RecipeLineShape(many=True)
    totals = TotalsShape(allow_null=True)
    analysis = by_key("Percent by weight, total N first; contents of 0 are left out.")
    slow_release_pct = serializers.FloatField(allow_null=True)
    warnings = WarningShape(many=True)


class AlternativeShape(BlendShape):
    relaxed = RelaxedShape(many=True)
    request = FormulationBodyShape(help_text="The wishes to send to get exactly this blend.")


class OutOfReachShape(Shape):
    conflict = serializers.ListField(child=serializers.CharField())
    conflict_fields = serializers.ListField(
        child=serializers.CharField(allow_null=True),
        help_text="For each of conflict, the path of its figure in the request, or null.",
    )
    reach = ReachShape(many=True)
    alternatives = AlternativeShape(many=True)
    not_explained = serializers.CharField(
        required=False, help_text="Why there is none of this: finding it takes too much work."
    )


class FormulationFiguresShape(BlendShape):
    status = serializers.ChoiceField(choices=["solved", "out_of_reach"])
    sensitivity = SensitivityShape(many=True)
    left_out = LeftOutShape(many=True)
    out_of_reach = OutOfReachShape(required=False)
    margin = MarginAnswerShape(required=False)


class SprayFactsShape(Shape):
    n_rate_lb_per_1000sqft = serializers.FloatField(required=False)
    carrier_gal_per_1000sqft = serializers.FloatField(required=False)
    tank_gal = serializers.FloatField(required=False)
    air_temp_f = serializers.FloatField(required=False)
    state = serializers.CharField(required=False)


class FormulationAnswerShape(FormulationFiguresShape):
    wish_costs = WishStepShape(
        many=True,
        required=False,
        help_text="Each wish moved a usual step up and down and formulated again.",
    )
    understood = FormulationBodyShape(
        required=False, help_text="What the line was taken for: the same request without a line."
    )
    understood_beside = SprayFactsShape(
        required=False, help_text="What the line says of the lawn; no part of the formulation."
    )


class SpraySheetRequestShape(Shape):
    analysis = by_key("Percent by weight; nitrogen by form.")
    density_lb_per_gal = serializers.FloatField()
    carrier_gal_per_1000sqft = serializers.FloatField(
        help_text="The whole spray volume, product included."
    )
    n_rate_lb_per_1000sqft = serializers.FloatField(required=False)
    product_fl_oz_per_1000sqft = serializers.FloatField(
        required=False, help_text="Instead of the rate of N."
    )
    tank_gal = serializers.FloatField(required=False)
    on_hand_gal = serializers.FloatField(required=False)
    air_temp_f = serializers.FloatField(required=False)
    solutes = by_key("What is known to be dissolved, percent by weight.", required=False)
    triazone_n_pct = serializers.FloatField(
        required=False, help_text="Slow nitrogen known to be urea-triazone, percent by weight."
    )
    cost_per_gal = DollarsField(required=False)


class SpraySheetAnswerShape(Shape):
    n_lb_per_gal = serializers.FloatField()
    n_lb_per_1000sqft = serializers.FloatField()
    readily_available_n_lb_per_1000sqft = serializers.FloatField()
    slow_n_lb_per_1000sqft = serializers.FloatField()
    product_fl_oz_per_1000sqft = serializers.FloatField()
    product_gal_per_1000sqft = serializers.FloatField()
    product_gal_per_acre = serializers.FloatField()
    carrier_gal_per_1000sqft = serializers.FloatField()
    carrier_gal_per_acre = serializers.FloatField()
    water_gal_per_1000sqft = serializers.FloatField()
    product_per_tank_gal = serializers.FloatField(allow_null=True)
    water_per_tank_gal = serializers.FloatField(allow_null=True)
    area_per_tank_sqft = serializers.FloatField(allow_null=True)
    area_on_hand_sqft = serializers.FloatField(allow_null=True)
    area_on_hand_acres = serializers.FloatField(allow_null=True)
    osmotic_load_osmol_per_l = serializers.FloatField()
    cost_per_1000sqft = serializers.CharField(allow_null=True)
    cautions = WarningShape(many=True)


class ErrorShape(Shape):
    code = serializers.CharField()
    detail = serializers.CharField()
    fields = serializers.DictField(  # type: ignore[assignment] # the JSON key is called fields
        child=serializers.CharField(), help_text="Path in the request to what is wrong there."
    )
    request = serializers.CharField(help_text="The request's number, as in X-Request-ID.")
