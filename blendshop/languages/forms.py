"""The two choices, as a person makes them for itself or a rep for a company."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.languages.choice import Choice
from blendshop.languages.offered import Language, UnitSystem


class ChoiceForm(forms.Form):
    """Left open, a choice is that of whoever stands above: the form says which that is."""

    language = forms.ChoiceField(label=_("Language"), required=False)
    units = forms.ChoiceField(label=_("Units"), required=False)

    def __init__(self, *args: Any, above: Choice, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        inherited = {
            "language": (Language.choices, Language(above.language).label),
            "units": (UnitSystem.choices, UnitSystem(above.units).label),
        }
        for name, (choices, usual) in inherited.items():
            field = cast("forms.ChoiceField", self.fields[name])
            blank = ("", _("as usual: {usual}").format(usual=usual))
            field.choices = [blank, *choices]
