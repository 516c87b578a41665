"""Forms of the tonnage report."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import offer_choices
from orders.records.forms import DayField


class TonnageForm(forms.Form):
    """A state and a period; last month unless asked otherwise."""

    state = forms.ChoiceField(label=_("State"))
    first = DayField(label=_("From"))
    last = DayField(label=_("Through"))

    def __init__(self, *args: Any, states: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_choices(self, "state", [(state, state) for state in states])


def last_month(today: date) -> tuple[date, date]:
    """First and last day of the month before ``today``'s."""
    last = today.replace(day=1) - timedelta(days=1)
    return last.replace(day=1), last
