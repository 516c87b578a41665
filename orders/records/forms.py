"""Forms that several rooms share: a reason, a mass, a day, a form that is sent once."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.errors import BadInput
from orders.models.pounds import PLACES


class ReasonForm(forms.Form):
    why = forms.CharField(label=_("Reason"), max_length=400)


def require_valid(form: forms.Form) -> dict[str, Any]:
    """The cleaned values; BadInput naming every refused field otherwise."""
    if form.is_valid():
        return form.cleaned_data
    refused = {name: " ".join(map(str, errors)) for name, errors in form.errors.items()}
    raise BadInput("Some fields need correcting.", fields=refused)


class PoundsInput(forms.DecimalField):
    """A mass to the thousandth of a pound."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(decimal_places=PLACES, max_digits=12, **kwargs)


class DayField(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, **kwargs)


class KeyedForm(forms.Form):
    """A form that writes: sent twice, its idempotency key makes it one entry."""

    key = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid4().hex, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
