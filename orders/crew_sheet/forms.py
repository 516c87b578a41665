"""What is typed for a crew sheet, and what a crew writes down of its work."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, Final, cast

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from blendshop.languages.choice import choice_for
from blendshop.languages.offered import Language
from formulas.reference.application_records import RecordDuty
from orders.crew_sheet.actions import Applied
from orders.crew_sheet.application import Application, made_parts
from orders.crew_sheet.typed_figures import FigureField
from orders.models import ApplicationRecord, BatchPart, CrewSheet, OrderLine, SprayHabit
from orders.records.forms import DayField, KeyedForm

#: What a crew keeps from one sheet to the next.
_KEPT: Final = (
    "tank_gal", "nozzle_count", "nozzle_spacing_in", "speed_mph", "seconds_per_1000sqft",
    "grass", "language",
)  # fmt: skip
_LARGEST: Final = 1e9


class SheetForm(KeyedForm):
    part = forms.ModelChoiceField(
        label=_("Lot"),
        queryset=BatchPart.objects.none(),
        required=False,
        empty_label=_("not made yet: figures of the recipe"),
    )
    place = forms.CharField(label=_("Place"), max_length=160)
    state = forms.RegexField(
        label=_("State"), regex=r"^[A-Z]{2}$", error_messages={"invalid": _("Two capital letters.")}
    )
    grass = forms.CharField(label=_("Grass"), max_length=80, required=False)
    area_sqft = FigureField(label=_("Area, sq ft"), most=_LARGEST)
    n_rate_lb_per_1000sqft = FigureField(label=_("N, lb per 1,000 sq ft"), most=100, required=False)
    product_fl_oz_per_1000sqft = FigureField(
        label=_("or product, fl oz per 1,000 sq ft"), most=10_000, required=False
    )
    carrier_gal_per_1000sqft = FigureField(
        label=_("Spray, gal per 1,000 sq ft, product included"), most=100
    )
    tank_gal = FigureField(label=_("Tank, gal"), most=100_000)
    nozzle_count = forms.IntegerField(label=_("Nozzles"), min_value=1, max_value=500, initial=1)
    nozzle_spacing_in = FigureField(label=_("Boom: nozzle spacing, in"), most=240, required=False)
    speed_mph = FigureField(label=_("Boom: speed, mph"), most=40, required=False)
    seconds_per_1000sqft = FigureField(
        label=_("Hand gun: seconds for 1,000 sq ft"), most=36_000, required=False
    )
    from_on = DayField(label=_("From"))
    until_on = DayField(label=_("Until"))
    note = forms.CharField(label=_("Note for the crew"), max_length=300, required=False)
    language = forms.ChoiceField(label=_("Language"), choices=Language.choices)

    def __init__(self, *args: Any, line: OrderLine, lot: str = "", **kwargs: Any) -> None:
        # The lot that was asked for stands first, else the newest.
        parts = sorted(made_parts(line), key=lambda part: part.batch.number != lot)
        kwargs["initial"] = {**usual(line, parts), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        lots = cast("forms.ModelChoiceField[BatchPart]", self.fields["part"])
        of_line = BatchPart.objects.filter(pk__in=[part.pk for part in parts])
        lots.queryset = of_line.with_label().order_by("-pk")
        if not parts:
            lots.widget = lots.hidden_widget()

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        rates = ("n_rate_lb_per_1000sqft", "product_fl_oz_per_1000sqft")
        given = [name for name in rates if typed.get(name) is not None]
        if len(given) != 1 and not self.has_error(rates[0]) and not self.has_error(rates[1]):
            self.add_error(rates[0], _("Give either pounds of N or fluid ounces of product."))
        if (typed.get("nozzle_spacing_in") is None) is not (typed.get("speed_mph") is None):
            self.add_error("speed_mph", _("A boom needs nozzle spacing and speed."))
        if typed.get("nozzle_spacing_in") and typed.get("seconds_per_1000sqft"):
            self.add_error("seconds_per_1000sqft", _("Either a boom or a hand gun."))
        first, last = typed.get("from_on"), typed.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", _("The last day lies before the first."))
        return typed

    @property
    def application(self) -> Application:
        """Of a valid form."""
        names = {field.name for field in fields(Application)}
        return Application(**{key: v for key, v in self.cleaned_data.items() if key in names})


def usual(line: OrderLine, parts: list[BatchPart]) -> dict[str, Any]:
    """Rate and place of the order, the spray habit, and the equipment of the last sheet."""
    order, today = line.order, timezone.localdate()
    habit = SprayHabit.objects.filter(company=order.company_id).first()
    last = CrewSheet.objects.filter(company=order.company_id).order_by("-pk").first()
    kept = {name: getattr(last, name) for name in _KEPT} if last else {}
    carrier = habit.carrier_gal_per_1000sqft if habit else None
    return {
        "part": parts[0].pk if parts else None,
        "place": f"{order.ship_to.label}, {order.ship_to.city}",
        "state": (habit.state if habit else "") or order.ship_to.state,
        "n_rate_lb_per_1000sqft": line.n_rate_lb_per_1000sqft
        or (habit.n_rate_lb_per_1000sqft if habit else None),
        "carrier_gal_per_1000sqft": carrier or (last.carrier_gal_per_1000sqft if last else None),
        "from_on": today,
        "until_on": today,
        "language": choice_for(order.company).language,
        **kept,
    }


class RecordForm(KeyedForm):
    """``asked`` are names of fields that the state asks for."""

    applied_by = forms.CharField(label=_("Applied by"), max_length=120)
    certificate_no = forms.CharField(
        label=_("Licence or certificate no."), max_length=60, required=False
    )
    supervisor = forms.CharField(label=_("Supervisor"), max_length=120, required=False)
    applied_on = DayField(label=_("Day"))
    start_time = forms.TimeField(
        label=_("Begun at"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )
    end_time = forms.TimeField(
        label=_("Ended at"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )
    customer_name = forms.CharField(label=_("Owner of the lawn"), max_length=120, required=False)
    customer_phone = forms.CharField(label=_("Owner's phone"), max_length=40, required=False)
    place = forms.CharField(label=_("Address of the lawn"), max_length=200)
    postal_code = forms.CharField(label=_("ZIP code"), max_length=12, required=False)
    area_sqft = FigureField(label=_("Area treated, sq ft"), most=_LARGEST)
    amount_gal = FigureField(label=_("Product used, gal"), most=100_000)
    wind_mph = FigureField(label=_("Wind, mph"), least=0, most=100, required=False)
    wind_from = forms.ChoiceField(
        label=_("Wind from"),
        required=False,
        choices=[
            ("", "—"), ("N", _("N")), ("NE", _("NE")), ("E", _("E")), ("SE", _("SE")),
            ("S", _("S")), ("SW", _("SW")), ("W", _("W")), ("NW", _("NW")), ("calm", _("calm")),
        ],
    )  # fmt: skip
    temperature_f = FigureField(label=_("Temperature, °F"), least=-40, most=130, required=False)
    weather = forms.CharField(label=_("Weather at the start"), max_length=120, required=False)
    equipment = forms.CharField(label=_("Equipment"), max_length=120, required=False)
    notes = forms.CharField(
        label=_("Notes"),
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, duty: RecordDuty | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked = duty.asked if duty else frozenset()

    @property
    def state_asks_for(self) -> list[str]:
        """Labels of fields the state asks for, in the form's order."""
        return [str(field.label) for name, field in self.fields.items() if name in self.asked]

    @property
    def applied(self) -> Applied:
        """Of a valid form."""
        names = {field.name for field in fields(Applied)}
        return Applied(**{key: v for key, v in self.cleaned_data.items() if key in names})


def of_sheet(sheet: CrewSheet, amount_gal: float) -> dict[str, Any]:
    """What a crew finds filled in."""
    return {
        "applied_on": timezone.localdate(),
        "place": sheet.place,
        "area_sqft": round(sheet.area_sqft),
        "amount_gal": round(amount_gal, 2),
    }


def of_record(record: ApplicationRecord) -> dict[str, Any]:
    """A record as it was typed, to be corrected."""
    return {field.name: getattr(record, field.name) for field in fields(Applied)}


class RecordFilter(forms.Form):
    q = forms.CharField(label=_("Place, person or lot"), max_length=80, required=False)
    since = DayField(label=_("From"), required=False)
    until = DayField(label=_("Until"), required=False)
