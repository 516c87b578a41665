"""What is typed on the page of prices: rows of the office's tables, and what the preview is of."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.db.models import Exists, OuterRef, QuerySet
from django.forms import modelformset_factory
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.form_fields import RowForm, RowSet, offer_choices
from blendshop.searched_rows import SEARCH, offer_searched
from formulas.models import BlendRevision
from orders.models import (
    FreightZone,
    Package,
    PricePolicy,
    PriceTier,
    QuantityBreak,
    StateFee,
)
from orders.pricing import PackageKind
from orders.quoting.forms import RevisionField, of_blends_named
from orders.records.forms import DayField

TOTES: Final = (PackageKind.TOTE_SOLD, PackageKind.TOTE_DEPOSIT, PackageKind.TOTE_RETURNED)
#: How many blends the preview shows side by side.
BLENDS: Final = 3


class TableRowForm(RowForm):
    """A row of a table: its heading names each field, and is read out with it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = str(field.label)
            if isinstance(field, forms.DecimalField | forms.IntegerField):
                field.widget = forms.TextInput(
                    attrs={
                        "aria-label": str(field.label),
                        "inputmode": "decimal",
                        "autocomplete": "off",
                    }
                )


class PolicyForm(TableRowForm):
    effective_from = DayField(label=gettext_lazy("Holds from"))

    class Meta:
        model = PricePolicy
        fields = (
            "shrink_pct", "batch_fee", "blend_fee_per_gal", "lab_fee_per_batch",
            "effective_from",
        )  # fmt: skip
        labels = {
            "shrink_pct": gettext_lazy("Shrink, % of material"),
            "batch_fee": gettext_lazy("Fee of a batch, $"),
            "blend_fee_per_gal": gettext_lazy("Blending, $ per gal"),
            "lab_fee_per_batch": gettext_lazy("Laboratory, $ per batch"),
        }

    @property
    def figures(self) -> list[Any]:
        """The bound fields without the day."""
        return [field for field in self if field.name != "effective_from"]


class TierForm(TableRowForm):
    class Meta:
        model = PriceTier
        fields = ("name", "margin_pct", "floor_pct", "is_default")
        labels = {
            "name": gettext_lazy("Tier"),
            "margin_pct": gettext_lazy("Margin, % of the price"),
            "floor_pct": gettext_lazy("Floor, %"),
            "is_default": gettext_lazy("Usual"),
        }
        help_texts = {"is_default": ""}

    def _get_validation_exclusions(self) -> set[str]:
        """Another tier may become the usual one: all of them are looked at together."""
        excluded: set[str] = super()._get_validation_exclusions()  # type: ignore[misc] # no stub
        return excluded | {"is_default"}


class BreakForm(TableRowForm):
    class Meta:
        model = QuantityBreak
        fields = ("above_gal", "margin_points_off")
        labels = {
            "above_gal": gettext_lazy("Gallons beyond"),
            "margin_points_off": gettext_lazy("Points off the margin"),
        }


class FeeForm(TableRowForm):
    class Meta:
        model = StateFee
        fields = ("state", "fee_per_ton", "citation", "active")
        labels = {
            "state": gettext_lazy("State"),
            "fee_per_ton": gettext_lazy("$ per ton of 2,000 lb"),
            "citation": gettext_lazy("Where it says so"),
            "active": gettext_lazy("Charged"),
        }

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()


class ZoneForm(TableRowForm):
    class Meta:
        model = FreightZone
        fields = ("name", "per_load", "per_package", "per_gal", "minimum", "pick_up")
        labels = {
            "name": gettext_lazy("Zone"),
            "per_load": gettext_lazy("$ per truck load"),
            "per_package": gettext_lazy("$ per package"),
            "per_gal": gettext_lazy("$ per gal in bulk"),
            "minimum": gettext_lazy("At least, $"),
            "pick_up": gettext_lazy("They collect"),
        }
        help_texts = {"pick_up": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("per_load", "per_package", "per_gal", "minimum"):
            self.fields[name].initial = 0


class TierRows(RowSet):
    def clean(self) -> None:
        super().clean()
        usual = [form for form in self.forms if form.cleaned_data.get("is_default")]
        if self.is_valid_each() and len(usual) != 1:
            raise forms.ValidationError(_("Exactly one tier is the usual one."))

    def is_valid_each(self) -> bool:
        return not any(form.errors for form in self.forms)


TIERS = modelformset_factory(PriceTier, form=TierForm, formset=TierRows, extra=1)
BREAKS = modelformset_factory(QuantityBreak, form=BreakForm, extra=1, can_delete=True)
FEES = modelformset_factory(StateFee, form=FeeForm, extra=1)
ZONES = modelformset_factory(FreightZone, form=ZoneForm, extra=1)


def priceable_revisions() -> QuerySet[BlendRevision]:
    """The newest revision of every blend in use, whosever it is, the newest first."""
    later = BlendRevision.objects.filter(
        blend=OuterRef("blend"), number__gt=OuterRef("number"), for_order_only=False
    )
    return (
        BlendRevision.objects.filter(~Exists(later), for_order_only=False, blend__archived=False)
        .select_related("blend")
        .order_by("-pk")
    )


class PreviewForm(forms.Form):
    """Three blends, in which tote, and for whom: the places of rows in the tables beside it."""

    package = forms.ModelChoiceField(
        Package.objects.filter(active=True, kind__in=TOTES),
        label=gettext_lazy("In"),
        empty_label=None,
    )
    tier = forms.ChoiceField(label=gettext_lazy("Tier"))
    zone = forms.ChoiceField(label=gettext_lazy("Delivered to"), required=False)
    state = forms.ChoiceField(label=gettext_lazy("State"), required=False)

    def __init__(self, *args: Any, places: dict[str, list[tuple[str, str]]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, offered in places.items():
            offer_choices(self, name, offered)
        for number in range(1, BLENDS + 1):
            name = f"blend{number}"
            self.fields[name] = RevisionField(
                BlendRevision.objects.none(),
                label=_("Blend {number}").format(number=number),
                required=False,
                empty_label=_("choose"),
            )
            offer_searched(
                self,
                name,
                priceable_revisions(),
                find=of_blends_named,
                url=reverse("price_blend_options"),
                words=self.data.get(f"{self.add_prefix(name)}{SEARCH}", ""),
                chosen=self.data.get(self.add_prefix(name)) or self.initial.get(name),
            )

    @property
    def blends(self) -> list[BlendRevision]:
        """The chosen revisions, each once."""
        chosen = [self.cleaned_data.get(f"blend{number}") for number in range(1, BLENDS + 1)]
        return list(dict.fromkeys(each for each in chosen if each is not None))
