"""Shapes of label drafts and assay checks, for the API's description only."""

from rest_framework import serializers

from formulas.engine.label.assay_check import Verdict
from formulas.engine.label.grade_rules import GRADE_RULES
from formulas.engine.label.metals import METALS, MetalVerdict
from formulas.engine.label.rules import Kind
from formulas.http_api.schema import Shape, WarningShape, by_key
from formulas.reference.allowances import allowance_rules


class LabelSourceShape(Shape):
    name = serializers.CharField(help_text="The source term as it is printed.")
    supplies = by_key("Percent of the product, by nutrient.", required=False)
    share_pct = serializers.FloatField(
        required=False,
        help_text="Its weight in the product, without water; orders the sources if all have one.",
    )


class LabelChangeShape(Shape):
    key = serializers.CharField(help_text="A printed line, or slow_release for the claim.")
    pct = serializers.FloatField(
        required=False, allow_null=True, help_text="The lower guarantee; null drops the line."
    )
    reason = serializers.CharField(required=False)


class LabelDraftRequestShape(Shape):
    analysis = by_key("Percent by weight; nitrogen by form.")
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind], required=False)
    sources = LabelSourceShape(many=True, required=False)
    density_lb_per_gal = serializers.FloatField()
    volume_gal = serializers.FloatField()
    chelated = by_key("Percent of the product that is chelated, by metal.", required=False)
    water_soluble = by_key("Percent of the product that is water soluble.", required=False)
    jurisdiction = serializers.ChoiceField(
        choices=list(GRADE_RULES), required=False, help_text="Whose rule on whole numbers holds."
    )
    promised = by_key(
        "Wished minima: a primary nutrient prints its wish where that is true, chlorine is printed "
        "only where it is wished.",
        required=False,
    )
    metals_contact = serializers.CharField(
        required=False, help_text="Own web page or telephone number of the metals statement."
    )
    metals_ppm = by_key("Metals of the product: " + ", ".join(METALS) + ".", required=False)
    product_lb_per_acre_year = serializers.FloatField(
        required=False, help_text="Largest yearly use; asks for Washington's metals check."
    )
    temperature_f = serializers.FloatField(required=False, help_text="Of the volume; default 68.")
    lot = serializers.CharField(required=False)
    guarantor = serializers.CharField(required=False, help_text="Name and address.")
    purchaser = serializers.CharField(required=False, help_text="Name and address.")
    delivered_on = serializers.CharField(required=False)
    changes = LabelChangeShape(many=True, required=False)


class GuaranteeShape(Shape):
    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment] # a JSON key
    pct = serializers.FloatField()
    printed = serializers.CharField(help_text="The figure in the label's own digits.")
    parent = serializers.CharField(allow_null=True)  # type: ignore[assignment] # a JSON key


class OtherIngredientShape(Shape):
    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment] # a JSON key
    pct = serializers.FloatField()
    printed = serializers.CharField(help_text="The figure in the label's own digits.")
    sources = serializers.ListField(child=serializers.CharField())


class NotClaimedShape(Shape):
    key = serializers.CharField()
    pct = serializers.FloatField()
    rule = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment] # a JSON key


class NetShape(Shape):
    lb = serializers.FloatField()
    kg = serializers.FloatField()
    gal = serializers.FloatField()
    L = serializers.FloatField()


class NetPrintedShape(Shape):
    """Rounded down, as printed."""

    lb = serializers.CharField()
    kg = serializers.CharField()
    gal = serializers.CharField()
    L = serializers.CharField()


class StatementShape(Shape):
    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment] # a JSON key


class HintShape(Shape):
    key = serializers.CharField()
    more_pct = serializers.FloatField()
    message = serializers.CharField()


class ChangeEntryShape(Shape):
    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment] # a JSON key
    from_pct = serializers.FloatField()
    to_pct = serializers.FloatField(allow_null=True)
    reason = serializers.CharField()


class _MetalVerdictShape(Shape):
    rule = serializers.CharField()
    metal = serializers.ChoiceField(choices=list(METALS))
    name = serializers.CharField()
    verdict = serializers.CharField(help_text=", ".join(MetalVerdict) + ".")
    source = serializers.CharField()  # type: ignore[assignment] # a JSON key
    verified = serializers.BooleanField()
    note = serializers.CharField()


class MetalShape(_MetalVerdictShape):
    found_ppm = serializers.FloatField(allow_null=True)
    limit_ppm = serializers.FloatField(allow_null=True)


class YearlyMetalShape(_MetalVerdictShape):
    found_lb_per_acre_year = serializers.FloatField(allow_null=True)
    limit_lb_per_acre_year = serializers.FloatField(allow_null=True)


class LabelDraftShape(Shape):
    grade = serializers.CharField()
    guarantees = GuaranteeShape(many=True, help_text="In printed order.")
    slow_release_statement = serializers.CharField(allow_null=True)
    slow_release_pct = serializers.FloatField(
        allow_null=True, help_text="The claim in percent of guaranteed total N."
    )
    derived_from = serializers.ListField(child=serializers.CharField())
    other_ingredients = OtherIngredientShape(many=True)
    not_claimed = NotClaimedShape(many=True)
    net = NetShape()
    net_printed = NetPrintedShape(help_text="Net contents rounded down, as the label prints them.")
    stabilized_nitrogen_statement = StatementShape(allow_null=True)
    metals_statement = StatementShape(allow_null=True)
    hints = HintShape(many=True)
    cautions = WarningShape(many=True)
    notes = WarningShape(many=True)
    changes = ChangeEntryShape(many=True)
    text = serializers.CharField(help_text="The draft as plain lines.")
    caution = serializers.CharField()


class LabelDraftAnswerShape(LabelDraftShape):
    metals = MetalShape(many=True)
    metals_yearly = YearlyMetalShape(many=True, allow_null=True)


class AssayCheckRequestShape(Shape):
    guarantees = by_key("Percent by weight, as printed.")
    found = by_key("Percent by weight; every guarantee above zero needs one.")
    rule = serializers.ChoiceField(choices=list(allowance_rules()), required=False)


class NutrientCheckShape(Shape):
    key = serializers.CharField()
    guaranteed = serializers.FloatField()
    found = serializers.FloatField(allow_null=True)
    allowance = serializers.FloatField(allow_null=True)
    floor = serializers.FloatField()
    verdict = serializers.ChoiceField(choices=[verdict.value for verdict in Verdict])
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment] # a JSON key
    verified = serializers.BooleanField()
    note = serializers.CharField(allow_blank=True)


class AssayCheckAnswerShape(Shape):
    nutrients = NutrientCheckShape(many=True)
    index_value_pct = serializers.FloatField(allow_null=True)
    index_floor_pct = serializers.FloatField()
    index_verdict = serializers.ChoiceField(
        choices=[Verdict.MEETS.value, Verdict.DEFICIENT.value], allow_null=True
    )
    index_source = serializers.CharField()
    index_note = serializers.CharField(allow_blank=True)
    rule = serializers.CharField()
    rule_name = serializers.CharField()
    deficient = serializers.BooleanField()
    caution = serializers.CharField()
