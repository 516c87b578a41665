"""Properties, programs and rounds as they are typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Final

from django import forms
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from blendshop.accounts.models import Company, User
from blendshop.form_fields import RowForm, offer_rows, offered_rows, require_row
from blendshop.searched_rows import SEARCH, offer_searched
from formulas.models import BlendRevision
from orders.models import Package, ProgramRound, Property, SeasonProgram, ShipTo
from orders.quoting.forms import RevisionField, of_blends_named, offered_revisions
from orders.records.forms import DayField
from orders.records.plant_words import package_words
from orders.season.reader_units import (
    QuantityField,
    area_unit,
    distance_unit,
    rate_unit,
    season_words,
    spray_unit,
)

#: lb of total nitrogen per 1,000 sq ft that a round may be typed with.
_LEAST_RATE: Final = 0.01
_MOST_RATE: Final = 20
_YES_NO = [("", _("not answered")), ("true", _("yes")), ("false", _("no"))]


def _answered(label: Any) -> forms.TypedChoiceField:
    """Yes, no, or not answered, which is neither."""
    return forms.TypedChoiceField(
        label=label,
        choices=_YES_NO,
        required=False,
        coerce=lambda text: text == "true",
        empty_value=None,
    )


class _YesNoKept(RowForm):
    """Shows a stored yes or no as its choice."""

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        value = super().get_initial_for_field(field, field_name)
        if isinstance(field, forms.TypedChoiceField) and isinstance(value, bool):
            return "true" if value else "false"
        return value


class SeasonFilter(forms.Form):
    """Search of the list of seasons."""

    q = forms.CharField(
        label=_("Search"), required=False, max_length=80, help_text=_("Customer or season.")
    )
    year = forms.IntegerField(label=_("Year"), required=False, min_value=2000, max_value=2100)


class PropertyForm(_YesNoKept):
    """What is treated, in the units of whoever types it. Saved by the action."""

    acres = QuantityField(label=_("Acres treated"), unit=area_unit, least=0.001, most=100_000)
    carrier_gal_per_1000sqft = QuantityField(
        label=_("Spray volume, gal per 1,000 sq ft"),
        help_text=_("Of the equipment, product included."),
        unit=spray_unit,
        least=0.01,
        most=100,
        required=False,
    )
    distance_to_water_ft = QuantityField(
        label=_("Distance to water, ft"),
        unit=distance_unit,
        least=0,
        most=100_000,
        required=False,
    )

    targeted_spray = _answered(_("Targeted spray equipment"))
    soil_test_shows_p_need = _answered(_("Soil test shows need of P"))
    soil_test_on = DayField(label=_("Soil test of"), required=False)

    class Meta:
        model = Property
        fields: ClassVar[tuple[str, ...]] = (
            "name",
            "acres",
            "grass",
            "state",
            "county",
            "place",
            "carrier_gal_per_1000sqft",
            "targeted_spray",
            "distance_to_water_ft",
            "soil_test_shows_p_need",
            "soil_test_on",
            "note",
            "active",
        )
        labels: ClassVar[dict[str, Any]] = {
            "name": _("Property or route"),
            "grass": _("Grass"),
            "state": _("State"),
            "county": _("County"),
            "place": _("City or town"),
            "note": _("Note"),
            "active": _("In use"),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = season_words()
        for name, label in (
            ("acres", words.area_treated),
            ("carrier_gal_per_1000sqft", words.spray),
            ("distance_to_water_ft", words.distance),
        ):
            field = self.fields[name]
            field.label = str(label)
            if isinstance(field, QuantityField):
                field.was = getattr(self.instance, name)

    def clean_state(self) -> str:
        return str(self.cleaned_data["state"]).upper()


class ProgramForm(_YesNoKept):
    """The head of a season and what it treats. Saved by the action."""

    properties = forms.ModelMultipleChoiceField(
        Property.objects.none(),
        label=_("Properties and routes"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    professional = _answered(_("Sprayed by a professional applicator"))

    class Meta:
        model = SeasonProgram
        fields: ClassVar[tuple[str, ...]] = (
            "name",
            "year",
            "ship_to",
            "package",
            "professional",
            "note",
        )
        labels: ClassVar[dict[str, Any]] = {
            "name": _("Name"),
            "year": _("Year"),
            "ship_to": _("Delivered to"),
            "package": _("Package"),
            "note": _("Note"),
        }

    def __init__(self, *args: Any, company: Company, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = Property.objects.filter(company=company)
        chosen = self.instance.properties.all() if self.instance.pk else own.filter(active=True)
        keys = [each.pk for each in chosen]
        offer_rows(self, "properties", own.filter(active=True) | own.filter(pk__in=keys))
        self.initial.setdefault("properties", keys)
        offer_rows(self, "ship_to", ShipTo.objects.filter(company=company, active=True))
        offer_rows(self, "package", Package.objects.filter(active=True), label=_package_label)
        for name in ("ship_to", "package"):
            require_row(self, name)
        if not self.instance.pk:
            totes = offered_rows(self, "package").filter(kind__startswith="tote").first()
            self.initial["package"] = totes.pk if totes else None


def _package_label(package: Package) -> str:
    return package_words(package.name, 1)


class RoundForm(forms.Form):
    """One round; without a blend it keeps the one it has."""

    name = forms.CharField(label=_("Round"), max_length=80)
    on = DayField(label=_("Day"))
    n_rate_lb_per_1000sqft = QuantityField(
        label=_("N rate, lb per 1,000 sq ft"),
        unit=rate_unit,
        least=_LEAST_RATE,
        most=_MOST_RATE,
        digits=3,
    )
    revision = RevisionField(
        BlendRevision.objects.none(), label=_("Blend"), empty_label=_("choose a saved blend")
    )
    left_out = forms.ModelMultipleChoiceField(
        Property.objects.none(),
        label=_("Not sprayed in this round"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        user: User,
        program: SeasonProgram,
        row: ProgramRound | None = None,
    ) -> None:
        super().__init__(data, initial=_of_row(row))
        rate = self.fields["n_rate_lb_per_1000sqft"]
        rate.label = str(season_words().typed_rate)
        if row is not None and isinstance(rate, QuantityField):
            rate.was = row.n_rate_lb_per_1000sqft
        offer_rows(self, "left_out", program.properties.order_by("name"))
        offer_searched(
            self,
            "revision",
            offered_revisions(user, program.company_id),
            find=of_blends_named,
            url=reverse("season_blend_options", args=[program.pk]),
            words=(data or {}).get(f"revision{SEARCH}", ""),
            chosen=(data or {}).get("revision") or (row.revision_id if row else None),
        )
        if row is not None:
            self.fields["revision"].required = False
            self.fields["revision"].help_text = _("Empty: as it is.")


def _of_row(row: ProgramRound | None) -> dict[str, Any]:
    if row is None:
        return {}
    return {
        "name": row.name,
        "on": row.on,
        "n_rate_lb_per_1000sqft": row.n_rate_lb_per_1000sqft,
        "revision": row.revision_id,
        "left_out": [each.pk for each in row.left_out.all()],
    }


class RowsForm(forms.Form):
    """Name, day and rate of every round of a program that is not released, in rows."""

    def __init__(self, data: Mapping[str, Any] | None, *, rounds: list[ProgramRound]) -> None:
        super().__init__(data, auto_id="%s")
        self.rounds = [each for each in rounds if not each.released_as]
        for each in self.rounds:
            self.fields[f"name_{each.pk}"] = forms.CharField(
                label=_("Round"), max_length=80, initial=each.name
            )
            self.fields[f"on_{each.pk}"] = DayField(label=_("Day"), initial=each.on)
            self.fields[f"rate_{each.pk}"] = QuantityField(
                unit=rate_unit,
                least=_LEAST_RATE,
                most=_MOST_RATE,
                was=each.n_rate_lb_per_1000sqft,
                digits=3,
                label=season_words().rate,
                initial=each.n_rate_lb_per_1000sqft,
            )
        for field in self.fields.values():
            field.widget.attrs["form"] = "rows"

    @property
    def rows(self) -> dict[int, dict[str, Any]]:
        """By key of the round its columns; of a valid form."""
        return {
            each.pk: {
                "name": self.cleaned_data[f"name_{each.pk}"],
                "on": self.cleaned_data[f"on_{each.pk}"],
                "n_rate_lb_per_1000sqft": self.cleaned_data[f"rate_{each.pk}"],
            }
            for each in self.rounds
        }


class RatesForm(forms.Form):
    """Rates that are taken over, as they are kept; a round without one keeps its own."""

    def __init__(self, data: Mapping[str, Any], *, rounds: list[ProgramRound]) -> None:
        super().__init__(data)
        self.rounds = rounds
        for each in rounds:
            self.fields[f"rate_{each.pk}"] = forms.FloatField(
                required=False, min_value=_LEAST_RATE, max_value=_MOST_RATE
            )

    @property
    def rows(self) -> dict[int, dict[str, Any]]:
        return {
            each.pk: {"n_rate_lb_per_1000sqft": rate}
            for each in self.rounds
            if (rate := self.cleaned_data[f"rate_{each.pk}"]) is not None
        }
