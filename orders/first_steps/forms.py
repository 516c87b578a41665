"""What is typed on the pages of the first steps; the actions save it."""

from datetime import date
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.forms import ROLE_WORDS
from blendshop.form_fields import RowForm
from formulas.reference import inspection_fees
from orders.models import (
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    StateFee,
    Tank,
    Truck,
)
from orders.records.forms import DayField, WeekdaysField

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise


def _dollars(label: "_StrPromise", decimal_places: int = 2) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=0, max_digits=10, decimal_places=decimal_places
    )


def _percent(
    label: "_StrPromise", most: int, help_text: "_StrPromise | str" = ""
) -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        min_value=0,
        max_value=most,
        max_digits=5,
        decimal_places=2,
        help_text=help_text,
    )


class ProfileForm(RowForm):
    class Meta:
        model = PlantProfile
        fields = (
            "name", "licence_note", "address", "phone", "email",
            "quote_validity_days", "payment_terms", "quote_terms",
        )  # fmt: skip
        labels = {
            "name": _("Name of the plant"),
            "address": _("Address"),
            "phone": _("Phone"),
            "email": _("Email address"),
            "licence_note": _("Licence or registration line"),
            "quote_terms": _("Terms at the foot of a quote"),
            "quote_validity_days": _("Days a quote is valid"),
            "payment_terms": _("Usual payment terms"),
        }
        help_texts = {
            "name": _("Guarantor on labels, head of papers."),
            "address": _("In one line; each comma begins a new one on papers."),
            "licence_note": _("As typed; the state says if it is needed."),
            "payment_terms": _("Such as: net 30 days. A customer or a quote may have its own."),
        }
        widgets = {"quote_terms": forms.Textarea(attrs={"rows": 2})}


class PriceForm(forms.Form):
    """The plant-wide figures, and the tier of customers who have none of their own."""

    shrink_pct = _percent(
        _("Shrink, % of material"), 50, _("What is lost between delivery and package.")
    )
    batch_fee = _dollars(_("Fee of a batch, $"))
    blend_fee_per_gal = _dollars(_("Blending, $ per gal"), decimal_places=4)
    lab_fee_per_batch = _dollars(_("Laboratory, $ per batch"))
    effective_from = DayField(label=_("Holds from"))
    tier_name = forms.CharField(
        label=_("Name of the usual tier"),
        max_length=60,
        help_text=_("Customers are priced by it unless the office agrees on another."),
    )
    margin_pct = _percent(_("Margin, % of the price"), 90)
    floor_pct = _percent(_("Floor, %"), 90, _("A quote below it waits for the office's approval."))

    POLICY = ("shrink_pct", "batch_fee", "blend_fee_per_gal", "lab_fee_per_batch")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        margin, floor = cleaned.get("margin_pct"), cleaned.get("floor_pct")
        if margin is not None and floor is not None and floor > margin:
            self.add_error("floor_pct", _("The floor must not exceed the margin."))
        return cleaned

    @classmethod
    def standing(cls, policy: PricePolicy | None, tier: PriceTier | None) -> dict[str, Any]:
        """What holds today, as the form begins with it."""
        found: dict[str, Any] = {"tier_name": _("Standard")}
        if policy is not None:
            found |= {name: getattr(policy, name) for name in cls.POLICY}
        if tier is not None:
            found |= {
                "tier_name": tier.name,
                "margin_pct": tier.margin_pct,
                "floor_pct": tier.floor_pct,
            }
        return found

    @property
    def policy(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.POLICY}


class PackageForm(RowForm):
    class Meta:
        model = Package
        fields = (
            "name", "plural_name", "kind", "fill_gal", "tare_lb", "max_gross_lb",
            "price", "deposit",
        )  # fmt: skip
        labels = {
            "name": _("Name"),
            "plural_name": _("Name of more than one"),
            "kind": _("Kind"),
            "fill_gal": _("Nominal fill, gal"),
            "tare_lb": _("Weight empty, lb"),
            "max_gross_lb": _("Most it may weigh full, lb"),
            "price": _("Price of the package, $"),
            "deposit": _("Deposit, $"),
        }
        help_texts = {
            "name": _("Such as 265 gal tote."),
            "fill_gal": _("What is filled, not the brim; 0 for bulk."),
            "max_gross_lb": _("Contents and package, as its plate says; empty for bulk."),
            "deposit": _("Only of a tote on deposit."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["plural_name"].required = False


class TankForm(RowForm):
    class Meta:
        model = Tank
        fields = (
            "name", "capacity_gal", "smallest_gal", "scale_step_lb", "scale_class",
            "fine_step_lb", "fine_max_lb", "loads_a_day",
        )  # fmt: skip
        labels = {
            "name": _("Name"),
            "capacity_gal": _("Holds, gal"),
            "smallest_gal": _("Smallest batch, gal"),
            "scale_step_lb": _("Division of its scale, lb"),
            "scale_class": _("Accuracy class of the scale"),
            "fine_step_lb": _("Division of a small scale, lb"),
            "fine_max_lb": _("Most the small scale takes, lb"),
            "loads_a_day": _("Loads a working day"),
        }
        help_texts = {
            "smallest_gal": _("Below this the agitator does not reach the liquid."),
            "scale_step_lb": _("The smallest step it shows; every stock is weighed in it."),
            "scale_class": _(
                "On the scale's plate: III for hopper and floor scales, III L trucks."
            ),
            "fine_step_lb": _("Empty where there is no second, finer scale."),
            "fine_max_lb": _("Larger weights go on the main scale."),
            "loads_a_day": _("Due dates follow it. Common practice, no source: set your own."),
        }


class DaysForm(RowForm):
    """The plant's week, and closed days as lines: a day and why."""

    working_weekdays = WeekdaysField(label=_("Loads are made on"))
    closed_days = forms.CharField(
        label=_("Days the plant is closed"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("One a line with the reason behind it, such as 12/25/2026 Christmas."),
    )

    class Meta:
        model = PlantProfile
        fields = (
            "working_weekdays", "minutes_a_day", "minutes_a_flush",
            "lead_time_working_days", "release_working_days", "closed_days",
        )  # fmt: skip
        labels = {
            "minutes_a_day": _("Minutes in a working day"),
            "minutes_a_flush": _("Minutes for a flush"),
            "lead_time_working_days": _("Working days an order takes at least"),
            "release_working_days": _("Working days from made to released"),
        }
        help_texts = {
            "minutes_a_day": _("The figures here are common practice, no source: set your own."),
            "minutes_a_flush": _("Of a tank, between loads that must not meet."),
            "lead_time_working_days": _("However free the tanks are."),
            "release_working_days": _("Reading, filling, papers."),
        }

    def clean_closed_days(self) -> dict[date, str]:
        found: dict[date, str] = {}
        for line in self.cleaned_data["closed_days"].splitlines():
            typed, _space, why = line.strip().partition(" ")
            if not typed:
                continue
            try:
                day = forms.DateField().clean(typed)
            except forms.ValidationError as error:
                message = format_lazy(_("“{line}” does not begin with a day."), line=line.strip())
                raise forms.ValidationError(message) from error
            found[day] = why.strip()[:120]
        return found


class FeeForm(RowForm):
    """What one state charges; begins with a state that is delivered to and not looked up."""

    state = forms.CharField(
        label=_("State"),
        min_length=2,
        max_length=2,
        help_text=_("Two letters, such as MD."),
        widget=forms.TextInput(attrs={"autocapitalize": "characters"}),
    )
    is_charged = forms.BooleanField(
        label=_("Prices of deliveries into this state carry it"), required=False, initial=True
    )

    class Meta:
        model = StateFee
        fields = ("state", "fee_per_ton", "citation", "is_charged")
        labels = {
            "fee_per_ton": _("Fee, $ per ton of 2,000 lb"),
            "citation": _("Where it says so"),
        }
        help_texts = {
            "fee_per_ton": _("0 where the state asks for none."),
            "citation": _("Statute, rule or page. Check it against the state's text of today."),
        }

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()

    def validate_unique(self) -> None:
        """A state that is on record already is changed."""

    @classmethod
    def beginning(cls, state: str) -> dict[str, Any]:
        """What is on record of a state, else what was shipped for it."""
        row = StateFee.objects.filter(state=state).first()
        if row is not None:
            return {
                "state": state,
                "fee_per_ton": row.fee_per_ton,
                "citation": row.citation,
                "is_charged": row.active,
            }
        shipped = next((fee for fee in inspection_fees() if fee.state == state), None)
        if shipped is None:
            return {"state": state}
        return {
            "state": state,
            "fee_per_ton": shipped.fee_per_ton,
            "citation": shipped.source.text,
        }


class ZoneForm(RowForm):
    class Meta:
        model = FreightZone
        fields = ("name", "pick_up", "per_load", "per_package", "per_gal", "minimum")
        labels = {
            "name": _("Name of the zone"),
            "pick_up": _("Customers of it collect at the plant; no freight"),
            "per_load": _("Per truck load, $"),
            "per_package": _("Per package, $"),
            "per_gal": _("Per gallon in bulk, $"),
            "minimum": _("At least, $"),
        }
        help_texts = {"name": _("Such as within 30 miles."), "pick_up": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("per_load", "per_package", "per_gal", "minimum"):
            self.fields[name].initial = 0


class TruckForm(RowForm):
    class Meta:
        model = Truck
        fields = ("name", "empty_lb", "gross_limit_lb", "package_places")
        labels = {
            "name": _("Name of the deck truck"),
            "empty_lb": _("Weight empty, lb"),
            "gross_limit_lb": _("Most it may weigh loaded, lb"),
            "package_places": _("Places for totes"),
        }
        help_texts = {
            "gross_limit_lb": _("As its plate and the roads it takes allow; state law decides."),
        }


class PersonOfPlantForm(forms.Form):
    name = forms.CharField(label=_("Name"), max_length=120)
    email = forms.EmailField(
        label=_("Email address"),
        help_text=_("Of somebody new, or of another who takes on a role; nobody changes the own."),
    )
    roles = forms.MultipleChoiceField(
        label=_("Roles"),
        choices=[(role.value, words) for role, words in ROLE_WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
