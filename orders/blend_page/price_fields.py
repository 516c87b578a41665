"""The fields of the blend page that ask for a price."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.money import money
from blendshop.number_fields import AboveZeroField
from orders.blend_page import fields as f
from orders.blend_page.page_options import PageOptions

GALLON: Final = "gal"
#: What a price may be for: the values are those a line says.
PRICED_BY: Final[tuple[tuple[str, str | Promise], ...]] = (
    (GALLON, gettext_lazy("a gallon")),
    ("tote", gettext_lazy("a tote")),
    ("drum", gettext_lazy("a drum")),
    ("pail", gettext_lazy("a pail")),
)


class PriceField(AboveZeroField):
    """Dollars and cents; a dollar sign before them is fine."""

    def to_python(self, value: Any) -> Any:
        text = str(value).strip().removeprefix("$") if value is not None else ""
        return super().to_python(text)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and money(Decimal(repr(value))) <= 0:
            raise forms.ValidationError(_("Must be at least a cent."))


def price_fields(options: PageOptions) -> dict[str, forms.Field]:
    """The selling price not to exceed and what it is for; material costs for who sees costs."""
    found: dict[str, forms.Field] = {
        f.PRICE_ASKED: PriceField(label=_("Price at most, $"), required=False),
        f.PRICE_ASKED_PER: forms.ChoiceField(
            label=_("Price for"),
            choices=PRICED_BY,
            widget=forms.Select({"class": "form-select-sm"}),
        ),
    }
    if options.sees_cost:
        found[f.MATERIAL_MAX] = AboveZeroField(
            label=_("Materials at most, $ per gal"), required=False
        )
    return found
