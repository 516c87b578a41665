"""Figures a crew types, kept as typed when they are refused, which a number input would not do."""

from __future__ import annotations

import re
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.figures.readers import reader

_THOUSANDS: Final = re.compile(r"\d{1,3}(,\d{3})+(\.\d*)?")


class FigureField(forms.FloatField):
    """A number from ``least`` (or above 0) to ``most``; ``43,560`` is read as thousands."""

    widget = forms.TextInput

    def __init__(self, *, most: float, least: float | None = None, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            error_messages={"invalid": _("Write a number, such as 24 or 3.5.")},
            **kwargs,
        )
        self.least, self.most = least, most

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.10g}" if isinstance(value, float) else value

    def to_python(self, value: Any) -> Any:
        text = str(value).strip() if value is not None else ""
        if _THOUSANDS.fullmatch(text):
            text = text.replace(",", "")
        elif "," in text:
            raise forms.ValidationError(_("Write the decimal point as a point, such as 3.5."))
        return super().to_python(text)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is None:
            return
        if self.least is None and value <= 0:
            raise forms.ValidationError(_("It has to be more than 0."))
        if self.least is not None and value < self.least:
            least = reader().at_most(self.least, 1)
            raise forms.ValidationError(_("Not less than {least}.").format(least=least))
        if value > self.most:
            most = reader().at_most(self.most, 1)
            raise forms.ValidationError(
                _("Not more than {most}; check the figure.").format(most=most)
            )
