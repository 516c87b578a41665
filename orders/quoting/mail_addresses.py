"""Mail addresses typed into one field."""

from __future__ import annotations

import re
from typing import Any, Final

from django import forms
from django.core.validators import validate_email
from django.utils.translation import gettext_lazy as _

MOST_ADDRESSES: Final = 10


class MailAddresses(forms.CharField):
    """Mail addresses with commas or blanks between them; a list of them."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "inputmode": "email"})

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> list[str]:  # type: ignore[override]  # as every list field
        asked = value if isinstance(value, list) else re.split(r"[,;\s]+", str(value or ""))
        return list(dict.fromkeys(address for address in asked if address))

    def validate(self, value: Any) -> None:
        super().validate(value)
        if len(value) > MOST_ADDRESSES:
            raise forms.ValidationError(
                _("At most %(most)s addresses."), params={"most": MOST_ADDRESSES}
            )

    def run_validators(self, value: Any) -> None:
        for address in value:
            try:
                validate_email(address)
            except forms.ValidationError as refused:
                raise forms.ValidationError(
                    _("“%(address)s” is no mail address."), params={"address": address}
                ) from refused
