"""Forms of the order board, of orders and of batches."""

from typing import Any

from django import forms
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.form_fields import offer_choices, offer_rows
from blendshop.roles import STAFF, has_role
from blendshop.searched_rows import SEARCH, offer_searched
from orders.models import Order, Package, ShipTo


class BoardFilter(forms.Form):
    """Search and filters of the order board; everything is optional."""

    q = forms.CharField(
        label=_("Number, customer, blend or reference"), required=False, max_length=80
    )
    status = forms.ChoiceField(
        label=_("Status"),
        required=False,
        choices=[("", _("open ones")), *Order.Status.choices, ("all", _("all"))],
    )
    company = forms.ModelChoiceField(
        Company.objects.none(), label=_("Customer"), required=False, empty_label=_("all")
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_role(user, *STAFF):  # there is one company to choose from: its own
            del self.fields["company"]
            self.fields["q"].label = _("Number, blend or reference")
            offer_choices(self, "status", [("", _("all")), *Order.Status.choices])
            return
        visible = Order.objects.visible_to(user).values("company")
        offer_searched(
            self,
            "company",
            Company.objects.filter(pk__in=visible),
            find=named,
            url=reverse("customer_options"),
            words=self.data.get(f"company{SEARCH}", ""),
            chosen=self.data.get("company"),
        )


class OwnCancelForm(forms.Form):
    why = forms.CharField(label=_("Reason, if you like"), required=False, max_length=400)


class MessageForm(forms.Form):
    why = forms.CharField(
        label=_("Message"), max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )


class DueDateForm(forms.Form):
    due_on = forms.DateField(
        label=_("Due"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    why = forms.CharField(label=_("Why"), required=False, max_length=400)


class ReorderForm(forms.Form):
    """How much of a saved blend, in what, to where."""

    package = forms.ModelChoiceField(
        Package.objects.filter(active=True), label=_("Package"), empty_label=None
    )
    quantity = forms.IntegerField(
        label=_("Quantity"),
        min_value=1,
        max_value=100_000,
        help_text=_("Packages; for bulk whole gallons."),
    )
    ship_to = forms.ModelChoiceField(ShipTo.objects.none(), label=_("Ship to"), empty_label=None)

    def __init__(self, *args: Any, user: User, company: Company | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = ShipTo.objects.visible_to(user).filter(active=True)
        if company is not None:
            places = places.filter(company=company)
        offer_rows(self, "ship_to", places.select_related("company"))
