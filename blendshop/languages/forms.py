"""The two choices, as a person makes them for itself or a rep for a company."""

from typing import Any, cast

from django import forms
from django.db import models
from django.utils.translation import gettext_lazy as _

from blendshop.languages.choice import Choice
from blendshop.languages.offered import Language, UnitSystem


class ChoiceForm(forms.Form):
    """Left open, a choice is that of whoever stands above: the form says which that is."""

    language = forms.ChoiceField(label=_("Language"), required=False)
    units = forms.ChoiceField(label=_("Units"), required=False)

    def __init__(self, *args: Any, above: Choice, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._offer("language", Language, Language(above.language))
        self._offer("units", UnitSystem, UnitSystem(above.units))

    def _offer(
        self, name: str, offered: type[models.TextChoices], usual: models.TextChoices
    ) -> None:
        field = cast("forms.ChoiceField", self.fields[name])
        blank = _("as usual: {usual}").format(usual=usual.label)
        field.choices = [("", blank), *((each.value, each.label) for each in offered)]
