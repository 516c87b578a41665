"""What a customer says beside a reorder, and how much of an order it wants after all."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from formulas.answers.promised_grade import product_name
from orders.models import Order, OrderLine
from orders.records.forms import DayField
from orders.records.plant_words import package_words


class BesideForm(forms.Form):
    """The customer's own number, day and note; all of it optional."""

    reference = forms.CharField(
        label=_("Your purchase order number, if you have one"), required=False, max_length=80
    )
    wanted_on = DayField(label=_("Wanted on, if later than due"), required=False)
    note = forms.CharField(
        label=_("Note for the plant"), required=False, max_length=400, widget=forms.TextInput()
    )


class QuantitiesForm(forms.Form):
    """Other quantities of the lines of an order, one field a line."""

    def __init__(self, data: Mapping[str, Any] | None, *, order: Order) -> None:
        super().__init__(data)
        self.lines = list(order.lines.select_related("revision__blend", "package"))
        for line in self.lines:
            self.fields[_name(line)] = forms.IntegerField(
                label=f"{_product(line)}, {package_words(line.package.plural_name, line.quantity)}",
                min_value=1,
                max_value=100_000,
                initial=line.quantity,
            )

    @property
    def quantities(self) -> list[int]:
        """By the order's lines, from a valid form."""
        return [self.cleaned_data[_name(line)] for line in self.lines]


def _product(line: OrderLine) -> str:
    return product_name(line.revision.blend.name, line.revision.grade)


def _name(line: OrderLine) -> str:
    return f"quantity_{line.position}"
