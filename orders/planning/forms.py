"""Forms of planning: which tank, which orders together, which loads to combine."""

from django import forms

from orders.models import Batch, OrderLine, Tank


class PlanForm(forms.Form):
    tank = forms.ModelChoiceField(Tank.objects.filter(active=True), empty_label=None)


class PlanTogetherForm(PlanForm):
    """Order lines to plan as common loads of one tank."""

    lines = forms.ModelMultipleChoiceField(
        OrderLine.objects.all(), error_messages={"required": "Choose at least one order."}
    )


class CombineForm(forms.Form):
    """Planned batches to make as fewer loads."""

    batches = forms.ModelMultipleChoiceField(Batch.objects.all(), to_field_name="number")
