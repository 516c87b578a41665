"""Forms of jar tests: what was weighed into the jar, and how it turned out."""

from collections.abc import Mapping
from typing import Any, Final
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.urls import reverse
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.searched_rows import FEW_KNOWN, SEARCH, offer_searched
from blendshop.uploads import JPEG, PNG, accepted
from formulas.jar_tests.actions import Jar
from formulas.jar_tests.storage import USUAL_DAYS, USUAL_STORAGE_F, StorageCheck, storage_check
from formulas.models import BaseStock, BlendRevision, JarTest
from formulas.models.base_stock import stocks_named

LARGEST_PHOTO_MB: Final = 10
_ROWS: Final = 6
_MOST_ROWS: Final = 24


class JarTestFilter(forms.Form):
    stock = forms.ModelChoiceField(
        BaseStock.objects.all(),
        label=_("Stock"),
        to_field_name="code",
        required=False,
        empty_label=_("all"),
    )
    outcome = forms.ChoiceField(
        label=_("Outcome"), required=False, choices=[("", _("all")), *JarTest.Outcome.choices]
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_stocks(self, "stock")


class StorageForm(forms.Form):
    """How long and how cold a blend is to stay clear; the usual figures unless typed."""

    storage_days = forms.FloatField(label=_("Kept for, days"), min_value=0, max_value=3650)
    storage_f = forms.FloatField(label=_("Down to, °F"), min_value=-60, max_value=200)

    @classmethod
    def read(cls, data: Mapping[str, Any]) -> "StorageForm":
        """A bound form of a query or a post; what was not sent is the usual figure."""
        usual = {"storage_days": f"{USUAL_DAYS:g}", "storage_f": f"{USUAL_STORAGE_F:g}"}
        return cls({name: data.get(name) or value for name, value in usual.items()}, auto_id="%s")

    def check(self, recipe: Mapping[str, float]) -> StorageCheck | None:
        """The recipe in storage; None while a figure cannot be read."""
        if not self.is_valid():
            return None
        return storage_check(
            recipe,
            days=self.cleaned_data["storage_days"],
            storage_f=self.cleaned_data["storage_f"],
        )


class WithdrawForm(forms.Form):
    why = forms.CharField(label=_("Reason"), max_length=400)


class JarTestForm(forms.Form):
    """One row a stock; weights in grams, pounds or percent, as long as all are alike."""

    tested_on = forms.DateField(
        label=_("Mixed on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    days = forms.FloatField(label=_("Stood for, days"), min_value=0, max_value=3650)
    temperature_f = forms.FloatField(label=_("Kept at, °F"), min_value=-60, max_value=200)
    outcome = forms.ChoiceField(
        label=_("Outcome"), choices=[("", _("choose")), *JarTest.Outcome.choices]
    )
    note = forms.CharField(
        label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )
    photo = forms.FileField(
        label=_("Photo"),
        required=False,
        help_text=format_lazy(_("PNG or JPEG, {mb} MB at the most."), mb=LARGEST_PHOTO_MB),
    )
    key = forms.CharField(max_length=64, widget=forms.HiddenInput)
    rows = forms.IntegerField(min_value=1, max_value=_MOST_ROWS, widget=forms.HiddenInput)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        files: Any = None,
        *,
        recipe: Mapping[str, float] | None = None,
    ) -> None:
        """``recipe`` (percent by stock code) is what the rows begin with."""
        begin = list((recipe or {}).items())
        count = _row_count(data.get("rows")) if data is not None else max(_ROWS, len(begin) + 1)
        initial = {"key": uuid4().hex, "tested_on": timezone.localdate(), "rows": count}
        for row, (code, pct) in enumerate(begin):
            initial |= {f"stock_{row}": code, f"part_{row}": f"{round(pct, 4):g}"}
        super().__init__(data, files, initial=initial)
        for row in range(count):
            self.fields[f"stock_{row}"] = forms.ModelChoiceField(
                BaseStock.objects.none(),
                label=format_lazy(_("Stock {number}"), number=row + 1),
                to_field_name="code",
                required=False,
                empty_label="",
            )
            _offer_stocks(self, f"stock_{row}")
            self.fields[f"part_{row}"] = forms.FloatField(
                label=format_lazy(_("Parts by weight of stock {number}"), number=row + 1),
                min_value=0,
                required=False,
            )
        self.row_count = count

    @property
    def share_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"stock_{row}"], self[f"part_{row}"]) for row in range(self.row_count)]

    def clean_photo(self) -> "UploadedFile[bytes] | None":
        """The photo under a name of ours, its kind read from its bytes."""
        photo: UploadedFile[bytes] | None = self.cleaned_data["photo"]
        return photo and accepted(
            photo, (PNG, JPEG), name="jar", what="photo", most_mb=LARGEST_PHOTO_MB
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        parts: dict[BaseStock, float] = {}
        for row in range(self.row_count):
            stock, part = cleaned.get(f"stock_{row}"), cleaned.get(f"part_{row}")
            if stock is None and part is None:
                continue
            if stock is None:
                self.add_error(f"stock_{row}", _("Choose the stock of this weight."))
            elif not part:
                self.add_error(f"part_{row}", _("Give its weight."))
            elif stock in parts:
                self.add_error(
                    f"stock_{row}", format_lazy(_("{code} stands twice."), code=stock.code)
                )
            else:
                parts[stock] = part
        if not parts and not self.errors:
            raise ValidationError(_("Say what was weighed into the jar."))
        cleaned["parts"] = parts
        return cleaned

    def jar(self, revision: BlendRevision | None) -> Jar:
        """The cleaned form as the action takes it."""
        names = ("parts", "tested_on", "days", "temperature_f", "outcome", "note", "photo")
        return Jar(**{name: self.cleaned_data[name] for name in names}, revision=revision)


def _offer_stocks(form: forms.Form, name: str) -> None:
    offer_searched(
        form,
        name,
        BaseStock.objects.all(),
        find=stocks_named,
        url=reverse("stock_options"),
        words=form.data.get(f"{name}{SEARCH}", ""),
        chosen=form.data.get(name) if form.is_bound else form.initial.get(name),
        few=FEW_KNOWN,
    )


def _row_count(sent: object) -> int:
    """How many rows were sent; a wrong figure is refused by its own field."""
    text = str(sent)
    return min(max(int(text), 1), _MOST_ROWS) if text.isdecimal() and len(text) <= 2 else _ROWS
