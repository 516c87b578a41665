"""The word on a request, and on an address."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from orders.models import FreightZone


class DecisionForm(forms.Form):
    """``reviewing`` are keys of the revisions that stood on the page, with commas between.

    ``seen_event`` is the request's newest event when the page was drawn.
    """

    decision = forms.ChoiceField(choices=[("release", "release"), ("decline", "decline")])
    why = forms.CharField(label=_("Why"), required=False, max_length=300)
    reviewing = forms.CharField(required=False, max_length=400, widget=forms.HiddenInput())

    seen_event = forms.IntegerField(required=False, widget=forms.HiddenInput())

    def clean_reviewing(self) -> frozenset[int]:
        keys = str(self.cleaned_data["reviewing"]).split(",")
        return frozenset(int(key) for key in keys if key.isdecimal() and len(key) < 19)


class PlaceForm(forms.Form):
    """Confirmed with its freight zone, or declined with a reason."""

    decision = forms.ChoiceField(choices=[("confirm", "confirm"), ("decline", "decline")])
    zone = forms.ModelChoiceField(
        FreightZone.objects.all(), label=_("Freight zone"), required=False
    )
    why = forms.CharField(label=_("Why"), required=False, max_length=300)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if given.get("decision") == "confirm" and not given.get("zone"):
            self.add_error("zone", _now("Choose the freight zone."))
        return given
