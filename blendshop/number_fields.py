"""Fields for figures typed by hand, on the blend page and wherever else figures are typed."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

_NUMBER: Final = gettext_lazy("Type a number, such as 24 or 3.5.")
_PCT_RANGE: Final = gettext_lazy("Between 0 and 100 percent.")
_SMALL: Final = "form-control-sm"


class NumberField(forms.FloatField):
    """A figure typed by hand: a trailing percent sign is fine, a decimal comma is not."""

    widget = forms.TextInput

    def __init__(self, **kwargs: Any) -> None:
        messages = {"invalid": _NUMBER, "required": gettext_lazy("Type a number here.")}
        super().__init__(error_messages=messages, **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off", "class": _SMALL}

    def to_python(self, value: Any) -> Any:
        text = str(value).strip().removesuffix("%").strip() if value is not None else ""
        if "," in text:
            raise forms.ValidationError(_("Write the decimal point as a point, such as 3.5."))
        return super().to_python(text)


class AboveZeroField(NumberField):
    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and value <= 0:
            raise forms.ValidationError(_("Must be above 0."))


class PctField(NumberField):
    """A share in percent; in a table its label is read out, the headings are seen."""

    def __init__(self, *, in_table: bool = True, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        if in_table:
            self.widget.attrs["aria-label"] = str(self.label)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and not 0 <= value <= 100:
            raise forms.ValidationError(_PCT_RANGE)


class ChanceField(NumberField):
    """A chance in percent; half of all batches miss a guarantee that has no margin."""

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and not 0.001 <= value <= 50:
            raise forms.ValidationError(_("From 0.001 to 50 percent."))


class CountField(forms.IntegerField):
    widget = forms.TextInput

    def __init__(self, **kwargs: Any) -> None:
        messages = {
            "invalid": gettext_lazy("Type a whole number."),
            "required": gettext_lazy("Type a whole number."),
            "min_value": gettext_lazy("At least %(limit_value)s."),
            "max_value": gettext_lazy("At most %(limit_value)s."),
        }
        super().__init__(error_messages=messages, **kwargs)
        self.widget.attrs |= {"inputmode": "numeric", "autocomplete": "off", "class": _SMALL}
