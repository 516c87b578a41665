"""Forms under a quote: sent at a price that was seen, approved, answered."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.figures.readers import reader
from orders.quoting.choices import Choice, choice_words
from orders.records.forms import DayField

#: Of the form that declines, beside the one that accepts.
DECLINE_IDS: Final = "decline_%s"


class Totals(forms.CharField):
    """Totals with commas between them; a tuple of them."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> tuple[Decimal, ...]:  # type: ignore[override]  # a list field
        one = forms.DecimalField(max_digits=12, decimal_places=2)
        return tuple(one.clean(total) for total in str(value or "").split(",") if total)


class SeenForm(forms.Form):
    """Send a draft at the total that was on the screen, or only price it anew."""

    do = forms.ChoiceField(choices=[("send", "send"), ("reprice", "reprice")])
    seen_total = forms.DecimalField(max_digits=12, decimal_places=2, required=False)
    seen_choices = Totals(required=False)
    why = forms.CharField(
        label=_("Why, for the office"), required=False, max_length=200, widget=forms.TextInput()
    )


class ApprovalForm(forms.Form):
    """The office's word on a price below the floor."""

    decision = forms.ChoiceField(choices=[("approve", "approve"), ("send_back", "send back")])
    why = forms.CharField(label=_("Remark"), required=False, max_length=400)


class AnswerForm(forms.Form):
    """The customer's word on a quote."""

    decision = forms.ChoiceField(choices=[("accept", "accept"), ("decline", "decline")])
    name = forms.CharField(
        label=_("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    why = forms.CharField(
        label=_("Reason, if declined"), required=False, max_length=400, widget=forms.TextInput()
    )
    reference = forms.CharField(
        label=_("Your purchase order number, if you have one"), required=False, max_length=80
    )
    wanted_on = DayField(label=_("Wanted on, if later than due"), required=False)
    note = forms.CharField(
        label=_("Note for the plant"), required=False, max_length=400, widget=forms.TextInput()
    )
    choice = forms.TypedChoiceField(
        label=_("Take one of these"),
        required=False,
        coerce=int,
        empty_value=None,
        widget=forms.RadioSelect(),
    )
    seen_due_on = forms.DateField(required=False, widget=forms.HiddenInput())
    #: Set by the page that asks once more before a customer accepts.
    agreed = forms.BooleanField(required=False, widget=forms.HiddenInput())

    _OF_ACCEPTED = ("name", "choice", "seen_due_on", "reference", "wanted_on", "note")

    def __init__(
        self, *args: Any, choices: Sequence[Choice] = (), recorded: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.is_decline = not recorded and self.data.get("decision") == "decline"
        if self.is_decline:  # it stands at the foot of the page, which opens there again
            self.auto_id = DECLINE_IDS
            self.fields["name"].widget.attrs["autofocus"] = True
        if recorded:
            self.fields["name"].label = _("Who answered")
            self.fields["reference"].label = _("Their purchase order number")
            self.fields["note"].label = _("Their note for the plant")
        if choices:
            cast("forms.TypedChoiceField", self.fields["choice"]).choices = [
                (choice.number, choice_words(choice, reader())) for choice in choices
            ]
        else:
            del self.fields["choice"]

    @classmethod
    def pair(
        cls, sent: AnswerForm | None = None, *, choices: Sequence[Choice] = (), name: str = ""
    ) -> dict[str, AnswerForm]:
        """The customer's two: to accept and to decline; ``sent`` is the one that was refused."""
        own = {"name": name}
        pair = {
            "form": cls(initial=own, choices=choices),
            "decline_form": cls(initial=own, auto_id=DECLINE_IDS),
        }
        if sent is not None and sent.is_bound:
            pair["decline_form" if sent.is_decline else "form"] = sent
        return pair

    @property
    def asks_first(self) -> bool:
        """Whether a valid answer accepts and nobody has asked yet whether it is meant."""
        given = self.cleaned_data
        has_chosen = "choice" not in self.fields or given.get("choice") is not None
        return given["decision"] == "accept" and has_chosen and not given["agreed"]

    @property
    def was_asked(self) -> bool:
        """Whether it comes from the page that asks: there it is shown again if it is refused."""
        return self["decision"].value() == "accept" and bool(self["agreed"].value())

    @property
    def accepted(self) -> dict[str, Any]:
        """Arguments of ``accept_quote`` from a valid form."""
        given = self.cleaned_data
        return {name: given.get(name) for name in self._OF_ACCEPTED}
