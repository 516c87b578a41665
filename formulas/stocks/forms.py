"""Forms of the stock pages: search, cost, upload."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import RowForm
from formulas.models import StockCost


class StockSearch(forms.Form):
    q = forms.CharField(label=_("Code or name"), required=False, max_length=80)
    retired = forms.BooleanField(label=_("Retired stocks too"), required=False)


class CostForm(RowForm):
    """A cost entry from a day on."""

    class Meta:
        model = StockCost
        fields = ("amount", "unit", "effective_from", "note")
        labels = {
            "amount": _("Amount"),
            "unit": _("Unit"),
            "effective_from": _("Effective from"),
            "note": _("Note"),
        }
        widgets = {"effective_from": forms.DateInput(attrs={"type": "date"})}

    def __init__(self, *args: Any, today: date, unit: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["effective_from"].initial = today
        self.fields["unit"].initial = unit  # as it is bought


class UploadForm(forms.Form):
    table = forms.FileField(
        label=_("Table (CSV)"),
        help_text=_(
            "Separated by commas, semicolons or tabs; UTF-8 or UTF-16. Only the lines you want to"
            " change."
        ),
        allow_empty_file=True,
    )
