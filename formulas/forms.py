"""Forms of the stock and blend pages."""

from datetime import date
from typing import Any

from django import forms

from blendshop.accounts.models import Company, User
from blendshop.form_fields import RowForm, offer_rows
from formulas.models import StockCost


class StockSearch(forms.Form):
    q = forms.CharField(label="Code or name", required=False, max_length=80)
    retired = forms.BooleanField(label="Retired stocks too", required=False)


class BlendSearch(forms.Form):
    """Searches never fail: what cannot be understood is left aside."""

    q = forms.CharField(label="Name, grade or customer", required=False, max_length=80)
    company = forms.ModelChoiceField(
        label="Customer", required=False, queryset=Company.objects.none(), empty_label="All"
    )
    archived = forms.BooleanField(label="Archived blends", required=False)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "company", Company.objects.visible_to(user))


class CostForm(RowForm):
    """A cost entry from a day on."""

    class Meta:
        model = StockCost
        fields = ("amount", "unit", "effective_from", "note")
        widgets = {"effective_from": forms.DateInput(attrs={"type": "date"})}

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["effective_from"].initial = today


class UploadForm(forms.Form):
    table = forms.FileField(
        label="Catalogue table (CSV)",
        help_text="Comma or semicolon separated, UTF-8. Only the lines you want to change.",
        allow_empty_file=True,
    )


class RenameForm(forms.Form):
    name = forms.CharField(label="Name", max_length=120)
