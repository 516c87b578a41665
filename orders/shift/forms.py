"""What a shift types: a cleaning, a sample, a note; and what a tablet says by itself."""

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models import HandoverNote, TankCleaning
from orders.records.forms import DayField, KeyedForm
from orders.shift.actions.unsent import MOST_BATCHES, MOST_WEIGHTS
from orders.shift.samples import KEEP_DAYS


class NoteForm(KeyedForm):
    shift = forms.ChoiceField(label=_("Shift"), choices=HandoverNote.Shift.choices)
    text = forms.CharField(
        label=_("What the next shift has to know"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class CleaningForm(KeyedForm):
    """``seen_entry`` is what had happened to the tank last when the form was shown."""

    seen_entry = forms.IntegerField(required=False, widget=forms.HiddenInput)
    how = forms.ChoiceField(label=_("How"), choices=TankCleaning.How.choices)
    note = forms.CharField(label=_("Note"), required=False, max_length=400)


class SampleForm(KeyedForm):
    kept_in = forms.CharField(
        label=_("Kept in"), max_length=120, help_text=_("Such as: sample room, shelf 3")
    )
    taken_at = forms.DateTimeField(
        label=_("Taken"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M"],
    )
    keep_until = DayField(label=_("Keep until"))
    note = forms.CharField(label=_("Note"), required=False, max_length=400)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        now = timezone.localtime().replace(second=0, microsecond=0)
        until = now.date() + timedelta(days=KEEP_DAYS)
        kwargs["initial"] = {"taken_at": now, "keep_until": until, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)


class DiscardForm(KeyedForm):
    why = forms.CharField(label=_("Why"), max_length=400)


class UnsentForm(forms.Form):
    """A tablet's word: its own name, whose weights, and of each batch ``NUMBER COUNT``."""

    tablet = forms.RegexField(r"^[0-9a-f]{32}$", widget=forms.HiddenInput)
    person = forms.IntegerField(widget=forms.HiddenInput)
    waiting = forms.CharField(required=False, max_length=1000, widget=forms.HiddenInput)

    def clean_waiting(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for line in self.cleaned_data["waiting"].splitlines():
            number, _space, count = line.partition(" ")
            if not (count.isascii() and count.isdigit() and 0 < int(count) <= MOST_WEIGHTS):
                raise forms.ValidationError(_("A count of weights is a whole number."))
            found[number] = int(count)
        if len(found) > MOST_BATCHES:
            raise forms.ValidationError(_("A tablet has no weights of so many batches."))
        return found
