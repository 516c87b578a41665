"""Forms about people's ways in."""

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import SecurityEvent


class SecurityLogSearch(forms.Form):
    q = forms.CharField(label=_("Search"), required=False, help_text=_("Person or address."))
    kind = forms.ChoiceField(
        label=_("What"),
        required=False,
        choices=[("", _("everything")), *SecurityEvent.Kind.choices],
    )
