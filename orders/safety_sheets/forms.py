"""A safety data sheet as it is sent in."""

from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.uploads import PDF, accepted
from orders.records.forms import DayField

LARGEST_MB: Final = 8


class SheetForm(forms.Form):
    file = forms.FileField(
        label=_("Safety data sheet"),
        help_text=format_lazy(_("PDF, {mb} MB at the most."), mb=LARGEST_MB),
        widget=forms.ClearableFileInput(attrs={"accept": PDF.content_type}),
    )
    revised_on = DayField(label=_("Date on the sheet"))

    def clean_file(self) -> UploadedFile[Any]:
        file: UploadedFile[Any] = self.cleaned_data["file"]
        return accepted(file, (PDF,), name="sds", what=str(_("file")), most_mb=LARGEST_MB)
