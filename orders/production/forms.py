"""Forms of the plant floor: a charge, a reading, packages, a rinse."""

from decimal import Decimal
from typing import Any, Final

from django import forms
from django.db import models
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.form_fields import RowChoice, offer_rows
from formulas.engine.composition import NAMES, WISH_KEYS
from orders.models import Batch, BatchPart, QualityReading, StockLot, Tank
from orders.planning.parts import filling_words
from orders.production.confirmations import Question
from orders.records.forms import PercentsField, PoundsInput, ReasonForm

NO_SUCH_LOT: Final = _("There is no lot {code}. Scan the code of our own label.")


class KeyForm(forms.Form):
    """The idempotency key: written once, however often the form is sent."""

    key = forms.CharField(max_length=64, widget=forms.HiddenInput)


class ChargeForm(KeyForm):
    """One weight into the tank. The lot's code is scanned, typed or chosen.

    ``person`` is whose weight it is, ``charged_lb`` what was in for the step on the screen it was
    typed at (nothing, where the screen does not say), ``confirmed`` the questions answered yes.
    """

    person = forms.IntegerField(required=False, widget=forms.HiddenInput)
    charged_lb = forms.DecimalField(
        required=False,
        max_digits=11,
        decimal_places=3,
        min_value=Decimal(0),
        widget=forms.HiddenInput,
    )
    confirmed = forms.MultipleChoiceField(
        label=_("Confirmed"),
        required=False,
        choices=[(question, question) for question in Question],
    )
    step = forms.IntegerField(min_value=1, max_value=999, widget=forms.HiddenInput)
    lot = forms.CharField(required=False, max_length=20)
    chosen_lot = forms.CharField(required=False, max_length=20)
    mass_lb = forms.DecimalField(
        label=_("Weighed, lb"), max_digits=11, decimal_places=3, min_value=Decimal("0.001")
    )
    weighed_at = forms.DateTimeField(
        required=False, input_formats=["%Y-%m-%dT%H:%M:%S.%fZ", "%Y-%m-%dT%H:%M:%SZ"]
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        code = (cleaned.get("lot") or cleaned.get("chosen_lot") or "").strip()
        cleaned["lot"] = None
        if code:
            cleaned["lot"] = StockLot.objects.filter(code__iexact=code).first()
            if cleaned["lot"] is None:
                self.add_error(
                    "lot",
                    format_lazy(NO_SUCH_LOT, code=code),
                )
        cleaned["charged_lb"] = cleaned.get("charged_lb") or Decimal(0)
        return cleaned


class ReverseForm(KeyForm):
    charge = forms.IntegerField(widget=forms.HiddenInput)
    why = forms.CharField(label=_("Why it was written wrongly"), max_length=200)


class CorrectionForm(KeyForm):
    seen = forms.CharField(max_length=16, widget=forms.HiddenInput)


class LotForm(forms.Form):
    """A lot for a weighing, as it was scanned."""

    step = forms.IntegerField(min_value=1, max_value=999, widget=forms.HiddenInput)
    lot = forms.CharField(max_length=20, widget=forms.HiddenInput)

    def clean_lot(self) -> StockLot:
        code = self.cleaned_data["lot"].strip()
        lot = StockLot.objects.filter(code__iexact=code).select_related("stock").first()
        if lot is None:
            raise forms.ValidationError(format_lazy(NO_SUCH_LOT, code=code))
        return lot


class TakeLotForm(LotForm, CorrectionForm):
    """The same, with the targets that were shown for it."""


class LowerPromiseForm(CorrectionForm):
    agreed_with = forms.CharField(label=_("Who agreed for the customer"), max_length=200)
    why = forms.CharField(label=_("Why it cannot be made right"), max_length=300)


class ReadingForm(KeyForm):
    """Density, temperature, pH and looks always; a laboratory's figures when there are any."""

    density_lb_per_gal = forms.FloatField(
        label=_("Density read, lb/gal"), min_value=5, max_value=20
    )
    temperature_f = forms.FloatField(label=_("Temperature, °F"), min_value=-40, max_value=212)
    ph = forms.FloatField(label="pH", min_value=-2, max_value=16)
    # Neither has a default: what nobody looked at must not be written down as seen.
    appearance = forms.ChoiceField(
        label=_("Appearance"), choices=[("", _("choose")), *QualityReading.Appearance.choices]
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=400)
    lab_figures = PercentsField(
        keys=[key for key in WISH_KEYS if key in NAMES],
        label=_("Laboratory's figures, if any"),
        required=False,
        help_text=_("Percent by weight, such as: N 24.1, K2O 3.05"),
    )
    lab_source = forms.CharField(label=_("Laboratory and report"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("lab_figures") and not cleaned.get("lab_source"):
            self.add_error("lab_source", _("Name the laboratory and its report."))
        return cleaned


class ReleaseForm(ReasonForm):
    """Letting a batch go; what the action needs depends on what stands in the way.

    ``about_reading``: the counting reading lies outside, so it was wrong or is true all the same.
    """

    reading_is_wrong = forms.TypedChoiceField(
        label=_("The reading that lies outside"),
        choices=[
            ("no", _("is right: the batch leaves with what was read")),
            ("yes", _("is wrong: set it aside; no density, label or certificate takes it")),
        ],
        widget=forms.RadioSelect,
        coerce=lambda value: value == "yes",
        empty_value=None,
        required=False,
    )

    def __init__(self, *args: Any, about_reading: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why"].required = False
        if not about_reading:
            del self.fields["reading_is_wrong"]


class SetAsideForm(KeyForm):
    """A reading that was wrong."""

    reading = forms.IntegerField(widget=forms.HiddenInput)
    why = forms.CharField(label=_("Why it is wrong"), max_length=400)


class PartChoice(RowChoice):
    def label_from_instance(self, part: BatchPart) -> str:
        to = part.consignment
        return f"{to.order_number}, {to.customer_name}: {part.product_name}, {filling_words(part)}"


class FillForm(KeyForm):
    """Packages of one part of the batch; there is nothing to choose when it is the only one."""

    part = PartChoice(queryset=BatchPart.objects.none(), label=_("For"), empty_label=None)
    count = forms.IntegerField(label=_("Packages filled"), min_value=1, max_value=500)
    net_lb = forms.DecimalField(
        label=_("Net weight of each, lb"),
        max_digits=11,
        decimal_places=3,
        min_value=Decimal("0.001"),
    )

    def __init__(self, *args: Any, parts: models.QuerySet[BatchPart], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_rows(self, "part", parts)
        if len(parts) == 1:
            self.fields["part"].widget = forms.HiddenInput()


class CloseForm(KeyForm):
    heel_lb = PoundsInput(
        label=_("Left in the tank, lb"), required=False, min_value=0,
        help_text=_("By the tank's scale. Empty: the usual heel, 1 % of the tank's capacity."),
    )  # fmt: skip
    why = forms.CharField(
        label=_("Where a difference went"), required=False, max_length=400,
        help_text=_("Needed when more than 1 % was not filled."),
    )  # fmt: skip


class BatchFilter(forms.Form):
    """Search and filters of the batch list."""

    q = forms.CharField(label=_("Number, order, blend or customer"), required=False, max_length=80)
    status = forms.ChoiceField(
        label=_("Status"),
        required=False,
        choices=[("", _("to be made or released")), *Batch.Status.choices, ("all", _("all"))],
    )
    tank = forms.ModelChoiceField(
        Tank.objects.all(), label=_("Tank"), required=False, empty_label=_("all")
    )
