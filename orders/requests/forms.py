"""The word on a request."""

from django import forms
from django.utils.translation import gettext_lazy as _


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
