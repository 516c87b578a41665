"""The form that changes one line of a label draft."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import offer_choices
from formulas.engine.label.printed_figures import text
from orders.labels.batch_label import BatchLabel, printed_lines
from orders.models import LabelChange
from orders.production.sold_as import in_force


class LabelChangeForm(forms.Form):
    """Lines that are printed, and lines that were changed and can be put back."""

    key = forms.ChoiceField(label=_("Line"))
    action = forms.ChoiceField(
        label=_("Change"),
        choices=[
            (LabelChange.Action.LOWER, _("lower it to the figure below")),
            (LabelChange.Action.DROP, _("leave it out")),
            (LabelChange.Action.RESTORE, _("put it back to what the analysis allows")),
        ],
    )
    pct = forms.DecimalField(
        label=_("New figure, %"),
        required=False,
        min_value=Decimal("0.0001"),
        max_value=Decimal(100),
        decimal_places=4,
        help_text=_("Only to lower a line; below what it says now."),
    )
    why = forms.CharField(label=_("Reason"), max_length=400)

    def __init__(self, *args: Any, label: BatchLabel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        now = printed_lines(label.draft)
        changed = {change.key for change in in_force(label.changes)}
        choices = [
            (key, f"{name}, {text(now[key][1])} %" if key in now else f"{name}, left out")
            for key, (name, _) in printed_lines(label.allowed).items()
            if key in now or key in changed
        ]
        offer_choices(self, "key", choices)
