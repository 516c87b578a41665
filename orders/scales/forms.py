"""What is typed about a scale: test loads and what it read."""

from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.records.forms import KeyedForm, PoundsInput
from orders.scales.actions import Verified

#: Lines of loads the form has.
LOADS: Final = (1, 2, 3)


class VerificationForm(KeyedForm):
    """Up to three known loads, each with its reading."""

    load_1 = PoundsInput(label=_("Known load, lb"), min_value=Decimal("0.001"))
    reading_1 = PoundsInput(label=_("The scale read, lb"), min_value=0)
    load_2 = PoundsInput(label=_("Known load, lb"), min_value=Decimal("0.001"), required=False)
    reading_2 = PoundsInput(label=_("The scale read, lb"), min_value=0, required=False)
    load_3 = PoundsInput(label=_("Known load, lb"), min_value=Decimal("0.001"), required=False)
    reading_3 = PoundsInput(label=_("The scale read, lb"), min_value=0, required=False)
    weights = forms.CharField(
        label=_("Test weights"),
        max_length=200,
        help_text=_("Which, and the number of their certificate, such as: 20 × 50 lb, no. 4711"),
    )
    is_acceptance = forms.BooleanField(
        label=_("New, repaired or just adjusted: half the tolerance"), required=False
    )
    checked_at = forms.DateTimeField(
        label=_("When"),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M"],
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=400)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        now = timezone.localtime().replace(second=0, microsecond=0)
        kwargs["initial"] = {"checked_at": now, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for number in LOADS:
            load, reading = cleaned.get(f"load_{number}"), cleaned.get(f"reading_{number}")
            if (load is None) == (reading is None) or self.has_error(f"load_{number}"):
                continue
            if not self.has_error(f"reading_{number}"):
                missing = f"reading_{number}" if reading is None else f"load_{number}"
                self.add_error(missing, _("A load and its reading belong together."))
        return cleaned

    def verified(self) -> Verified:
        """What was typed; the form must be valid."""
        typed = self.cleaned_data
        pairs = [(typed[f"load_{each}"], typed[f"reading_{each}"]) for each in LOADS]
        return Verified(
            loads=[(load, reading) for load, reading in pairs if load is not None],
            weights=typed["weights"],
            checked_at=typed["checked_at"],
            is_acceptance=typed["is_acceptance"],
            note=typed["note"],
        )
