"""What is asked of the pages of drift."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import offer_choices
from orders.drift.margin_change import OrderedBlend


class BlendChoice(forms.Form):
    """Another blend to look at; what is no blend of the list is the first."""

    blend = forms.TypedChoiceField(label=_("Another blend"), required=False, coerce=int)

    def __init__(self, *args: Any, blends: list[OrderedBlend], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = [(str(each.blend.pk), str(each.blend)) for each in blends]
        offer_choices(self, "blend", [("", _("the most ordered")), *known])


class SeenSpread(forms.Form):
    """The figures that the person saw, percent."""

    strength = forms.FloatField(widget=forms.HiddenInput)
    total_n = forms.FloatField(widget=forms.HiddenInput)

    def seen(self) -> tuple[float, float]:
        """Those of a form that nobody changed; others fit nothing that was measured."""
        if not self.is_valid():
            return -1.0, -1.0
        return self.cleaned_data["strength"], self.cleaned_data["total_n"]
