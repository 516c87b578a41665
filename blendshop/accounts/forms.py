"""Forms about people's ways in."""

from typing import Final

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import SecurityEvent
from blendshop.errors import BadInput
from blendshop.roles import Role

#: What a role of the plant is for, where somebody chooses one.
ROLE_WORDS: Final = {
    Role.PLANT: _("plant: charges loads, receives stocks, verifies scales"),
    Role.FORMULATOR: _("formulator: keeps stocks and rules, approves labels, releases batches"),
    Role.REP: _("rep: blends, quotes, customers"),
    Role.OFFICE: _("office: prices, approvals, people"),
}


class OwnPhoneForm(forms.Form):
    """The number customers read; the action says what is none."""

    phone = forms.CharField(
        label=_("Phone"),
        max_length=40,
        required=False,
        help_text=_("Stands beside your name on the quotes you write and in their mails."),
        widget=forms.TextInput(attrs={"autocomplete": "tel", "inputmode": "tel"}),
    )


class FirstPersonForm(forms.Form):
    """The owner, or whoever does the office's work; the action checks the password."""

    name = forms.CharField(
        label=_("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label=_("Email address"),
        help_text=_("You sign in with it."),
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=_("At least 12 characters, none that is commonly used."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("Password again"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    also = forms.TypedMultipleChoiceField(
        label=_("What else do you do yourself?"),
        required=False,
        coerce=Role,
        choices=[(role.value, words) for role, words in ROLE_WORDS.items() if role != Role.OFFICE],
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Tick it now: later only another person of the office gives you a role."),
    )

    def clean_again(self) -> str:
        again: str = self.cleaned_data["again"]
        if again != self.cleaned_data.get("password", again):
            raise forms.ValidationError(_("The two passwords are not the same."))
        return again

    def refuse(self, error: BadInput) -> None:
        """Show what the action refused, at its field if it speaks of one."""
        for field, message in error.fields.items():
            self.add_error(field if field in self.fields else None, message)


class SecurityLogSearch(forms.Form):
    q = forms.CharField(label=_("Search"), required=False, help_text=_("Person or address."))
    kind = forms.ChoiceField(
        label=_("What"),
        required=False,
        choices=[("", _("everything")), *SecurityEvent.Kind.choices],
    )
