"""Forms of customers, their people and their addresses."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company
from blendshop.form_fields import RowForm
from orders.models import PriceTier, ShipTo


class CustomerSearch(forms.Form):
    q = forms.CharField(label=_("Search"), required=False, help_text=_("Company, person or town."))


class CompanyForm(forms.Form):
    """A company; ``active`` and the terms only once it exists."""

    name = forms.CharField(label=_("Name"), max_length=120)
    phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    notes = forms.CharField(
        label=_("Notes"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("For staff; the customer does not see this."),
    )
    active = forms.BooleanField(
        label=_("Active: may be quoted"), required=False, widget=forms.CheckboxInput()
    )

    def __init__(self, *args: Any, company: Company | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if company is None:
            del self.fields["active"]


class TermsForm(forms.Form):
    """The office's terms for a company."""

    tier = forms.ModelChoiceField(
        PriceTier.objects.all(),
        label=_("Price tier"),
        required=False,
        empty_label=_("the default tier"),
    )
    payment_terms = forms.CharField(label=_("Payment terms"), max_length=120, required=False)


class PersonForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)
    email = forms.EmailField(label=_("Email address"))


class ShipToForm(RowForm):
    """A delivery address; saved by the action, not by the form."""

    class Meta:
        model = ShipTo
        fields = ("label", "street", "city", "state", "county", "postal_code", "zone", "active")
        labels = {
            "label": _("Name of the place"),
            "street": _("Street"),
            "city": _("City"),
            "state": _("State"),
            "county": _("County"),
            "postal_code": _("Postal code"),
            "zone": _("Freight zone"),
            "active": _("Active"),
        }
        widgets = {"state": forms.TextInput(attrs={"size": 2, "autocapitalize": "characters"})}
        help_texts = {"state": _("Two capital letters.")}

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()
