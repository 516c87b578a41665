"""What of the change log somebody wants to see."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import User
from blendshop.form_fields import offer_choices, offer_rows
from orders.changes.lines import Kind
from orders.changes.log import kinds_for
from orders.changes.source import Wanted
from orders.records.forms import DayField


class LogFilter(forms.Form):
    """Everything is optional; what cannot be understood is left aside."""

    record = forms.CharField(
        label=_("Record"),
        required=False,
        max_length=80,
        help_text=_("Number, stock, customer or name."),
    )
    kind = forms.ChoiceField(label=_("What"), required=False)
    person = forms.ModelChoiceField(
        User.objects.none(), label=_("Who"), required=False, empty_label=_("everybody")
    )
    since = DayField(label=_("From"), required=False)
    until = DayField(label=_("To"), required=False)

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = [(kind.value, kind.label) for kind in kinds_for(user)]
        offer_choices(self, "kind", [("", _("everything")), *kinds])
        offer_rows(self, "person", User.objects.filter(company=None))

    def wanted(self) -> Wanted:
        self.is_valid()
        typed = self.cleaned_data
        until = typed.get("until")
        return Wanted(
            kind=Kind(typed["kind"]) if typed.get("kind") else None,
            person=typed.get("person"),
            since=_start_of(typed.get("since")),
            until=_start_of(until + timedelta(days=1)) if until and until < date.max else None,
            record=(typed.get("record") or "").strip(),
        )


def _start_of(day: date | None) -> datetime | None:
    return timezone.make_aware(datetime.combine(day, time.min)) if day else None
