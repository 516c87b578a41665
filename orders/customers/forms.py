"""Forms of customers, their people and their addresses."""

from typing import Any

from django import forms

from blendshop.accounts.models import Company
from blendshop.form_fields import RowForm
from orders.models import PriceTier, ShipTo


class CustomerSearch(forms.Form):
    q = forms.CharField(label="Search", required=False, help_text="Company, person or town.")


class CompanyForm(forms.Form):
    """A company; ``active`` and the terms only once it exists."""

    name = forms.CharField(max_length=120)
    phone = forms.CharField(max_length=40, required=False)
    notes = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For staff; the customer does not see this.",
    )
    active = forms.BooleanField(
        label="Active: may be quoted", required=False, widget=forms.CheckboxInput()
    )

    def __init__(self, *args: Any, company: Company | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if company is None:
            del self.fields["active"]


class TermsForm(forms.Form):
    """The office's terms for a company."""

    tier = forms.ModelChoiceField(
        PriceTier.objects.all(), label="Price tier", required=False, empty_label="the default tier"
    )
    payment_terms = forms.CharField(max_length=120, required=False)


class PersonForm(forms.Form):
    name = forms.CharField(max_length=120)
    email = forms.EmailField(label="Email address")


class ShipToForm(RowForm):
    """A delivery address; saved by the action, not by the form."""

    class Meta:
        model = ShipTo
        fields = ("label", "street", "city", "state", "county", "postal_code", "zone", "active")
        labels = {"label": "Name of the place", "zone": "Freight zone"}
        widgets = {"state": forms.TextInput(attrs={"size": 2, "autocapitalize": "characters"})}
        help_texts = {"state": "Two capital letters."}

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()
