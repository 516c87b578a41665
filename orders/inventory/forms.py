"""Forms of lots, the trace and the tonnage report; what writes carries its idempotency key."""

from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.figures.readers import reader
from blendshop.uploads import JPEG, PDF, PNG, accepted
from formulas.engine.composition import NAMES
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock
from orders.inventory.actions.lot_quality import Certificate
from orders.models import StockLot
from orders.records.forms import DayField, KeyedForm, PoundsInput

_LARGEST_FILE_MB: Final = 10
_FIGURE: Final = "figure_"
_METAL: Final = "metal_"


class LotFilter(forms.Form):
    """Search of the lots. A scanner types a lot's code here and goes straight to it."""

    q = forms.CharField(
        label=_("Scan or type a lot, a supplier's lot or a place"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
    )
    stock = forms.ModelChoiceField(
        BaseStock.objects.filter(lots__isnull=False).distinct(),
        label=_("Stock"),
        required=False,
        empty_label=_("all"),
    )
    state = forms.ChoiceField(
        label=_("State"),
        required=False,
        choices=[("", _("not used up")), *StockLot.State.choices, ("all", _("all"))],
    )


class StockChoice(forms.Form):
    """First step of receiving: which stock came in."""

    stock = forms.ModelChoiceField(
        BaseStock.objects.active(), label=_("Stock"), to_field_name="code", empty_label=_("choose")
    )


class CertificateForm(forms.Form):
    """What a certificate says: the stock's own contents, the density, metals, the file itself.

    Left empty, the catalogue's typical figure stands.
    """

    source = forms.CharField(
        label=_("Certificate"), max_length=300, required=False, help_text=_("Its number and date.")
    )
    density_lb_per_gal = forms.FloatField(
        label=_("Density, lb/gal"), min_value=5, max_value=20, required=False
    )
    density_temp_f = forms.FloatField(label=_("at °F"), min_value=0, max_value=150, required=False)
    file = forms.FileField(
        label=_("File"),
        required=False,
        help_text=format_lazy(_("PDF, PNG or JPEG, {mb} MB at the most."), mb=_LARGEST_FILE_MB),
    )

    def __init__(self, *args: Any, stock: BaseStock, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key, pct in stock.analysis().items():
            self.fields[f"{_FIGURE}{key}"] = forms.FloatField(
                label=f"{NAMES[key]}, %",
                min_value=0,
                max_value=100,
                required=False,
                help_text=format_lazy(_("Typical {pct} %."), pct=reader().significant(pct)),
            )
        for metal, name in METALS.items():
            self.fields[f"{_METAL}{metal}"] = forms.FloatField(
                label=f"{name}, ppm", min_value=0, max_value=1_000_000, required=False
            )

    @property
    def figure_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(_FIGURE)]

    @property
    def metal_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(_METAL)]

    def clean_file(self) -> "UploadedFile[bytes] | None":
        """The file under a name of ours, its kind read from its bytes."""
        file: UploadedFile[bytes] | None = self.cleaned_data["file"]
        return file and accepted(
            file, (PDF, PNG, JPEG), name="certificate", what="file", most_mb=_LARGEST_FILE_MB
        )

    def certificate(self) -> Certificate:
        """The cleaned form as the actions take it."""
        values = self.cleaned_data
        return Certificate(
            source=values["source"],
            figures=self._given(_FIGURE),
            metals=self._given(_METAL),
            density_lb_per_gal=values["density_lb_per_gal"],
            density_temp_f=values["density_temp_f"],
            file=values["file"],
        )

    def _given(self, prefix: str) -> dict[str, float]:
        return {
            name.removeprefix(prefix): value
            for name, value in self.cleaned_data.items()
            if name.startswith(prefix) and value is not None
        }


class ReceiveForm(KeyedForm, CertificateForm):
    """A delivery and its certificate."""

    mass_lb = PoundsInput(label=_("Mass received, lb"), min_value=0)
    received_on = DayField(label=_("Received on"))
    expires_on = DayField(label=_("Last day of use"), required=False)
    supplier = forms.CharField(label=_("Supplier"), max_length=120, required=False)
    supplier_lot = forms.CharField(label=_("Supplier's lot"), max_length=60, required=False)
    location = forms.CharField(label=_("Tank or place"), max_length=80, required=False)
    held_reason = forms.CharField(
        label=_("Hold it, because"),
        max_length=400,
        required=False,
        help_text=_("Empty: it may be used at once."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"received_on": timezone.localdate(), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)


class CountForm(KeyedForm):
    """What was found in the tank, against the balance that was shown."""

    found_lb = PoundsInput(label=_("Found, lb"), min_value=0)
    seen_lb = PoundsInput(widget=forms.HiddenInput)
    why = forms.CharField(label=_("Reason"), max_length=400)


class AdjustForm(KeyedForm):
    mass_lb = PoundsInput(label=_("Change, lb"), help_text=_("-2.5 takes off, 2.5 adds."))
    why = forms.CharField(label=_("Reason"), max_length=400)


class ExtendForm(forms.Form):
    expires_on = forms.DateField(
        label=_("New last day of use"), widget=forms.DateInput(attrs={"type": "date"})
    )
    why = forms.CharField(label=_("What was tested and found"), max_length=300)


class TransferForm(KeyedForm):
    mass_lb = PoundsInput(label=_("Mass, lb"), min_value=0)
    location = forms.CharField(label=_("To tank or place"), max_length=80)


class TraceForm(forms.Form):
    q = forms.CharField(
        label=_("Scan or type a lot, package serial, batch, order or supplier's lot"),
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
    )
