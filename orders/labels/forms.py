"""Forms of a label: change one line, approve it, take the approval back."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import offer_choices
from formulas.engine.label.printed_figures import text
from orders.labels.batch_label import BatchLabel, printed_lines
from orders.labels.standing import LabelState
from orders.models import LabelChange
from orders.production.sold_as import in_force


class LabelChangeForm(forms.Form):
    """Lines that are printed, and lines that were changed and can be put back."""

    key = forms.ChoiceField(label=_("Line"))
    action = forms.ChoiceField(
        label=_("Change"),
        choices=[
            (LabelChange.Action.LOWER, _("lower it to the figure below")),
            (LabelChange.Action.DROP, _("leave it out")),
            (LabelChange.Action.RESTORE, _("put it back to what the analysis allows")),
        ],
    )
    pct = forms.DecimalField(
        label=_("New figure, %"),
        required=False,
        min_value=Decimal("0.0001"),
        max_value=Decimal(100),
        decimal_places=4,
        help_text=_("Only to lower a line; below what it says now."),
    )
    why = forms.CharField(label=_("Reason"), max_length=400)

    def __init__(self, *args: Any, label: BatchLabel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        now = printed_lines(label.draft)
        changed = {change.key for change in in_force(label.changes)}
        choices = [
            (key, f"{name}, {text(now[key][1])} %" if key in now else f"{name}, left out")
            for key, (name, _) in printed_lines(label.allowed).items()
            if key in now or key in changed
        ]
        offer_choices(self, "key", choices)


class ApprovalForm(forms.Form):
    """A tick for everything that a person confirms; ``seen`` says which label was on the page."""

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, state: LabelState, **kwargs: Any) -> None:
        kwargs["initial"] = {"seen": state.now.fingerprint, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        self.ticks = tuple(state.confirms)
        for name, words in state.confirms.items():
            self.fields[name] = forms.BooleanField(label=words, required=False)
        self.fields["note"] = forms.CharField(
            label=_("Note"), required=False, max_length=400,
            help_text=_("Kept with the approval; not printed."),
        )  # fmt: skip

    @property
    def confirmed(self) -> tuple[str, ...]:
        """What was ticked, by name."""
        return tuple(name for name in self.ticks if self.cleaned_data[name])


class WithdrawForm(forms.Form):
    withdrawn_why = forms.CharField(label=_("Why it is withdrawn"), max_length=400)
