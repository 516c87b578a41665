"""Forms of planning: which tank, which orders together, which loads to combine."""

from django import forms
from django.utils.translation import gettext_lazy as _

from orders.models import Batch, OrderLine, Tank


class PlanForm(forms.Form):
    tank = forms.ModelChoiceField(
        Tank.objects.filter(active=True), label=_("Tank"), empty_label=None
    )


class PlanTogetherForm(PlanForm):
    """Order lines to plan as common loads of one tank."""

    lines = forms.ModelMultipleChoiceField(
        OrderLine.objects.all(),
        label=_("Lines"),
        error_messages={"required": _("Choose at least one order.")},
    )


class CombineForm(forms.Form):
    """Planned batches to make as fewer loads."""

    batches = forms.ModelMultipleChoiceField(
        Batch.objects.all(), label=_("Batches"), to_field_name="number"
    )
