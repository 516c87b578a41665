"""Forms of a tank's page: look and sign, drain, rinse."""

from decimal import Decimal

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from formulas.engine.composition import ANALYSIS_KEYS
from orders.models import Batch
from orders.records.forms import KeyedForm, PercentsField, PoundsInput
from orders.tanks.actions.looking import Found


class LookForm(KeyedForm):
    """What a person found in the tank; which fields count depends on what it is."""

    found = forms.ChoiceField(
        label=_("What is in it"),
        widget=forms.RadioSelect,
        choices=[
            (Found.EMPTY.value, _("nothing: empty and rinsed")),
            (Found.HEEL.value, _("a heel, not rinsed")),
            (Found.BATCH.value, _("a batch, or part of one")),
            (Found.OTHER.value, _("something else")),
            (Found.UNKNOWN.value, _("something I cannot name")),
        ],
    )
    volume_gal = forms.FloatField(
        label=_("How much, gal"),
        required=False,
        min_value=0,
        help_text=_("Empty for a heel: the usual one, 1 % of the tank's capacity."),
    )
    batch = forms.CharField(
        label=_("Of which batch"),
        required=False,
        max_length=20,
        help_text=_("For a heel only when it is not of what the ledger says."),
    )
    product = forms.CharField(label=_("Something else: what it is"), required=False, max_length=120)
    density_lb_per_gal = forms.FloatField(
        label=_("its density, lb/gal"), required=False, min_value=5, max_value=20
    )
    analysis = PercentsField(
        keys=ANALYSIS_KEYS,
        label=_("its contents"),
        required=False,
        help_text=_("Percent by weight, nitrogen by its forms, such as: N.urea 12.5, K2O 3"),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=400)

    def clean_batch(self) -> Batch | None:
        number = self.cleaned_data["batch"].strip()
        if not number:
            return None
        batch = Batch.objects.filter(number__iexact=number).first()
        if batch is None:
            message = format_lazy(_("There is no batch {number}."), number=number)
            raise forms.ValidationError(message)
        return batch

    def clean_found(self) -> Found:
        return Found(self.cleaned_data["found"])


class DrainForm(KeyedForm):
    heel_gal = forms.FloatField(
        label=_("Left in it, gal"),
        required=False,
        min_value=0,
        help_text=_("Empty: the usual heel, 1 % of the tank's capacity."),
    )
    note = forms.CharField(label=_("Where it went"), required=False, max_length=400)


class RinseForm(KeyedForm):
    water_lb = PoundsInput(label=_("Water used, lb"), min_value=Decimal("0.001"))
    residue_lb = PoundsInput(
        label=_("Product left in the tank before, lb"),
        min_value=0,
        help_text=_("By the tank's scale; the water's contents are estimated from it."),
    )
    is_kept = forms.ChoiceField(
        label=_("The water is"),
        choices=[("kept", _("kept as a lot, held until it is assayed")), ("", _("disposed of"))],
        required=False,
    )
    location = forms.CharField(label=_("Kept in"), required=False, max_length=80)
    note = forms.CharField(label=_("Note"), required=False, max_length=400)

    def clean_is_kept(self) -> bool:
        return bool(self.cleaned_data["is_kept"])
