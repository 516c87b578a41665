"""What a customer types on its own pages."""

from django import forms
from django.utils.translation import gettext_lazy as _


class LotSearch(forms.Form):
    q = forms.CharField(
        label=_("Search"),
        required=False,
        help_text=_("Lot, order, your purchase order or blend."),
    )
