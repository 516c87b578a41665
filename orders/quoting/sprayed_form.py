"""How a caller who is no customer yet sprays: the blend page asked it, the sheet carries it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django import forms

from blendshop.number_fields import AboveZeroField

PREFIX: Final = "sprayed"


class SprayedForm(forms.Form):
    """Rate and volume per 1,000 sq ft and, where it is not the ship-to, the place; all hidden."""

    n_rate = AboveZeroField(widget=forms.HiddenInput)
    carrier = AboveZeroField(widget=forms.HiddenInput)
    state = forms.CharField(max_length=2, required=False, widget=forms.HiddenInput)
    county = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)
    place = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "prefix": PREFIX})

    @classmethod
    def kept(cls, sent: Mapping[str, Any]) -> SprayedForm:
        """What came with the address or with the sheet, unchecked."""
        return cls(initial={name: sent.get(f"{PREFIX}-{name}", "") for name in cls.base_fields})

    def remembered(self) -> dict[str, Any]:
        """What ``remember_spraying`` takes; the form is valid."""
        typed = dict(self.cleaned_data)
        rate, volume = typed.pop("n_rate"), typed.pop("carrier")
        return {"n_rate_lb": rate, "carrier_gal": volume} | typed
