"""Forms that several rooms share: a reason, a mass, a day, a form that is sent once.

A refused form comes back with what was typed and the reason beside its field: the page sends the
action inside ``Refusals`` and is drawn again with the same form when the action refuses.
"""

import math
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Any, Self
from uuid import uuid4

from django import forms
from django.utils.dates import WEEKDAYS
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.errors import BadInput, DomainError, NotAllowed
from orders.models.pounds import PLACES


class ReasonForm(forms.Form):
    why = forms.CharField(label=_("Reason"), max_length=400)


def require_valid(form: forms.Form) -> dict[str, Any]:
    """The cleaned values; BadInput naming every refused field otherwise."""
    if form.is_valid():
        return form.cleaned_data
    refused = {name: " ".join(map(str, errors)) for name, errors in form.errors.items()}
    raise BadInput(str(_("Some fields need correcting.")), fields=refused)


class Refusals:
    """Catches what an action refuses and shows it in the form; ``status`` is then the page's.

    What a person may not do at all is no matter of the form and goes on.
    """

    def __init__(self, form: forms.BaseForm) -> None:
        self.form, self.status = form, BadInput.status

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        if not isinstance(error, DomainError) or isinstance(error, NotAllowed):
            return False
        self.status = error.status
        show_refusal(self.form, error)
        return True

    def taken(self, act: Callable[[dict[str, Any]], object]) -> bool:
        """Whether what was typed is right and the action took it."""
        if not self.form.is_valid():
            return False
        with self:
            act(self.form.cleaned_data)
            return True
        return False


def show_refusal(form: forms.BaseForm, error: DomainError) -> None:
    """A refusal of the action, beside the fields it names; above them what names none."""
    seen = {field.name for field in form.visible_fields()}
    named = {name: text for name, text in error.fields.items() if name in seen}
    for name, text in named.items():
        form.add_error(name, text)
    if not named:
        told = dict.fromkeys([error.message, *error.fields.values()])
        form.add_error(None, " ".join(told))


class PoundsInput(forms.DecimalField):
    """A mass to the thousandth of a pound."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(decimal_places=PLACES, max_digits=12, **kwargs)


class DayField(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, **kwargs)


class WeekdaysField(forms.MultipleChoiceField):
    """Days of the week as boxes to tick, kept as their numbers in one text, Monday 1."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs["widget"] = forms.CheckboxSelectMultiple(attrs={"class": "ticks-in-a-row"})
        days = enumerate(WEEKDAYS.values(), start=1)
        super().__init__(choices=[(str(number), name) for number, name in days], **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return list(value) if isinstance(value, str) else value

    def clean(self, value: Any) -> Any:
        return "".join(sorted(super().clean(value)))

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class PercentsField(forms.CharField):
    """Contents typed in one line, ``N.urea 12.5, K2O 3``, as percent by weight by key."""

    def __init__(self, *, keys: Sequence[str], **kwargs: Any) -> None:
        super().__init__(max_length=400, **kwargs)
        self.keys = keys

    def clean(self, value: Any) -> Any:
        typed: str = super().clean(value)
        found: dict[str, float] = {}
        for part in typed.replace(";", ",").split(","):
            if not part.strip():
                continue
            key, _space, text = part.strip().partition(" ")
            try:
                found[key] = _percent(text)
            except ValueError as error:
                message = format_lazy(
                    _("“{part}” is not a content and a figure."), part=part.strip()
                )
                raise forms.ValidationError(message) from error
            if key not in self.keys:
                known = ", ".join(self.keys)
                raise forms.ValidationError(
                    format_lazy(_("{key} is not one of {known}."), key=key, known=known)
                )
        return found


def _percent(text: str) -> float:
    """Raises ValueError for what is no figure; "nan" and "inf" are none."""
    pct = float(text.strip().rstrip("%"))
    if not math.isfinite(pct):
        raise ValueError(text)
    return pct


class KeyedForm(forms.Form):
    """A form that writes: sent twice, its idempotency key makes it one entry."""

    key = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid4().hex, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
