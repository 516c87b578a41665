"""What is typed about a recall."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models import ToldOfRecall
from orders.records.forms import KeyedForm


class CustomerWordsForm(forms.Form):
    customer_reason = forms.CharField(
        label=_("What customers are told"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Stands in every letter. Name no other customer and no supplier."),
    )


class OpenForm(forms.Form):
    """``may_word``: a formulator may write what customers are told at once."""

    source = forms.CharField(
        label=_("Lot, batch, package serial, order or supplier's lot"), max_length=80
    )
    reason = forms.CharField(
        label=_("Reason, for the plant"),
        max_length=400,
        help_text=_("No customer reads this."),
    )
    customer_reason = forms.CharField(
        label=_("What customers are told"),
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Stands in every letter. Name no other customer and no supplier."),
    )

    def __init__(self, *args: Any, may_word: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_word:
            del self.fields["customer_reason"]


class ToldForm(KeyedForm):
    way = forms.ChoiceField(label=_("Told by"), choices=ToldOfRecall.Way.choices)
    told_at = forms.DateTimeField(
        label=_("When"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M"],
    )
    note = forms.CharField(label=_("Note"), max_length=400, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        now = timezone.localtime().replace(second=0, microsecond=0)
        kwargs["initial"] = {"told_at": now, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
