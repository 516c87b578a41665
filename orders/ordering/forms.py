"""Forms of the order board, of orders and of batches."""

from typing import Any

from django import forms

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput
from blendshop.form_fields import offer_choices, offer_rows
from blendshop.roles import STAFF, has_role
from orders.models import Batch, Order, OrderLine, Package, ShipTo, Tank


class BoardFilter(forms.Form):
    """Search and filters of the order board; everything is optional."""

    q = forms.CharField(label="Number, customer, blend or reference", required=False, max_length=80)
    status = forms.ChoiceField(
        required=False, choices=[("", "open ones"), *Order.Status.choices, ("all", "all")]
    )
    company = forms.ModelChoiceField(
        Company.objects.none(), label="Customer", required=False, empty_label="all"
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_role(user, *STAFF):  # there is one company to choose from: its own
            del self.fields["company"]
            self.fields["q"].label = "Number, blend or reference"
            offer_choices(self, "status", [("", "all"), *Order.Status.choices])
            return
        visible = Order.objects.visible_to(user).values("company")
        offer_rows(self, "company", Company.objects.filter(pk__in=visible))


class BatchFilter(forms.Form):
    """Search and filters of the batch list."""

    q = forms.CharField(label="Number, order, blend or customer", required=False, max_length=80)
    status = forms.ChoiceField(
        required=False,
        choices=[("", "to be made or released"), *Batch.Status.choices, ("all", "all")],
    )
    tank = forms.ModelChoiceField(Tank.objects.all(), required=False, empty_label="all")


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


class DueDateForm(forms.Form):
    due_on = forms.DateField(
        label="Due", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    why = forms.CharField(label="Why", required=False, max_length=400)


class ReasonForm(forms.Form):
    why = forms.CharField(label="Reason", max_length=400)


class ReorderForm(forms.Form):
    """How much of a saved blend, in what, to where."""

    package = forms.ModelChoiceField(Package.objects.filter(active=True), empty_label=None)
    quantity = forms.IntegerField(
        min_value=1, max_value=100_000, help_text="Packages; for bulk whole gallons."
    )
    ship_to = forms.ModelChoiceField(ShipTo.objects.none(), label="Ship to", empty_label=None)

    def __init__(self, *args: Any, user: User, company: Company | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = ShipTo.objects.visible_to(user).filter(active=True)
        if company is not None:
            places = places.filter(company=company)
        offer_rows(self, "ship_to", places.select_related("company"))


def require_valid(form: forms.Form) -> dict[str, Any]:
    """The cleaned values; BadInput naming every refused field otherwise."""
    if form.is_valid():
        return form.cleaned_data
    refused = {name: " ".join(map(str, errors)) for name, errors in form.errors.items()}
    raise BadInput("Some fields need correcting.", fields=refused)
