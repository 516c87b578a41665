"""Forms of customers, their people and their addresses."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company
from blendshop.form_fields import RowForm, offered_rows
from blendshop.languages.offered import Language, UnitSystem
from orders.models import OrderLimits, PriceTier, ShipTo


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
    language = forms.ChoiceField(
        label=_("Language"),
        required=False,
        choices=[("", _("as the house writes")), *Language.choices],
        help_text=_("For its people, unless one chooses otherwise; mails, quotes and papers too."),
    )
    units = forms.ChoiceField(
        label=_("Units"),
        required=False,
        choices=[("", _("as the house writes")), *UnitSystem.choices],
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


class LimitsForm(RowForm):
    """What a company orders by itself, and whether it reads recipes; saved by the actions."""

    sees_recipe = forms.BooleanField(
        label=_("Its people read recipes: stocks with their shares"),
        help_text=_(
            "Without it they read analysis and sources, and the safety data sheet of each blend"
            " they bought. With it also the sheets of the stocks in it, which name what is in it."
        ),
        required=False,
    )

    class Meta:
        model = OrderLimits
        fields: ClassVar[tuple[str, ...]] = ("most_gal", "most_total", "most_open")
        labels = {
            "most_gal": _("Gallons an order"),
            "most_total": _("Dollars an order, deposits included"),
            "most_open": _("Dollars of all open orders together"),
        }
        help_texts = {"most_open": _("Ordered and not shipped. Empty: no limit of that kind.")}


class PersonForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)
    email = forms.EmailField(label=_("Email address"))


class ColleagueForm(PersonForm):
    """Somebody an owner invites."""

    may_order = forms.BooleanField(
        label=_("May order; otherwise may only look"), required=False, initial=True
    )


class ShipToForm(RowForm):
    """A delivery address; saved by the action, not by the form."""

    class Meta:
        model = ShipTo
        fields: ClassVar[tuple[str, ...]] = (
            "label",
            "street",
            "city",
            "state",
            "county",
            "postal_code",
            "zone",
            "active",
        )
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


class OwnPlaceForm(ShipToForm):
    """A place a customer adds; the plant sets its zone."""

    class Meta(ShipToForm.Meta):
        fields = ("label", "street", "city", "state", "county", "postal_code")


class OwnPlaceChangeForm(RowForm):
    """What a customer changes of its place by itself."""

    class Meta(ShipToForm.Meta):
        fields = ("label", "street", "postal_code")


class MailsForm(forms.Form):
    """What a customer's person is mailed."""

    quotes = forms.BooleanField(label=_("New quotes"), required=False)
    orders = forms.BooleanField(label=_("Orders asked for and confirmed"), required=False)
    shipping = forms.BooleanField(label=_("Orders on their way"), required=False)


class CallerForm(ShipToForm):
    """Somebody who was no customer yet: who it is, how to reach them, where it goes."""

    name = forms.CharField(label=_("Company"), max_length=120)
    person = forms.CharField(label=_("Who called"), max_length=120, required=False)
    email = forms.EmailField(
        label=_("Email address"),
        required=False,
        help_text=_("Gets a link to choose a password, and the quote."),
    )

    class Meta(ShipToForm.Meta):
        fields = ("street", "city", "state", "county", "postal_code", "zone")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "prefix": "caller"})
        zones = offered_rows(self, "zone")
        if len(zones) == 1:
            self.fields["zone"].initial = zones[0].pk

    @classmethod
    def kept(cls, sent: Mapping[str, Any]) -> "CallerForm":
        """What was typed so far, unchecked."""
        names = cls.base_fields
        typed = {name: text for name in names if (text := sent.get(f"caller-{name}"))}
        return cls(initial=typed)

    @property
    def is_begun(self) -> bool:
        """Whether anything of it was typed, so that it must not fold away."""
        return self.is_bound or bool(self.initial)
