"""A season's applications of one saved blend, checked against annual limits and closed dates.

The plan lives in the address: nothing is saved, a link or a printout keeps it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django import forms
from django.db.models import QuerySet
from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.number_fields import AboveZeroField
from blendshop.roles import Role, has_role
from blendshop.searched_rows import SEARCH, is_key, offer_of_rows, search_choices
from formulas.engine.law import ANNUAL, Application, at_n_rate
from formulas.engine.units import FL_OZ_PER_GAL
from formulas.models import BlendRevision
from orders.compliance.check import FindingRow, LawReport, SprayPlace, place_of, season_report
from orders.compliance.questions import QUESTIONS, circumstances_of, law_fields
from orders.models import ShipTo
from orders.records.ship_tos import ship_tos_at

#: Applications offered at first, and the most a season can mean.
FIRST_ROWS: Final = 5
MOST_ROWS: Final = 24


class SeasonForm(forms.Form):
    """Days and rates, where it is sprayed, and the law's questions. Empty rows are no mistake."""

    def __init__(self, data: QueryDict, *, user: User, revision: BlendRevision) -> None:
        asked = data.get("rows", "")
        rows = int(asked) if asked.isdecimal() and len(asked) <= 2 else FIRST_ROWS
        self.row_count = max(1, min(MOST_ROWS, rows + (5 if "more" in data else 0)))
        typed = data.copy()
        company = revision.blend.company_id
        self.ship_tos = season_ship_tos(user, company)
        words = typed.get(f"ship_to{SEARCH}", "").strip()[:80]
        if "ship_to" not in typed:
            first = self.ship_tos.first()
            typed["ship_to"] = str(first.pk) if first else ""
        super().__init__(typed, auto_id="%s")
        offer = offer_of_rows(
            self.ship_tos,
            find=ship_tos_at,
            words=words,
            chosen=typed["ship_to"],
            label=ship_to_words(company),
        )
        none = _("none: the state typed below")
        self.fields["ship_to"] = field = forms.ChoiceField(
            label=_("Ship to"),
            choices=[("", none), *offer.choices],
            required=False,
            widget=forms.Select({"class": "form-select-sm"}),
        )
        options = f"{reverse('season_ship_to_options')}?company={company or ''}"
        search_choices(field, offer, url=options, words=words, include="#ship_to", empty=none)
        for row in range(self.row_count):
            self.fields[f"day_{row}"] = forms.DateField(
                label=f"Day of application {row + 1}",
                required=False,
                widget=forms.DateInput(
                    {
                        "class": "form-control-sm",
                        "type": "date",
                        "aria-label": f"Day of application {row + 1}",
                    },
                    format="%Y-%m-%d",
                ),
                input_formats=["%Y-%m-%d"],
                error_messages={"invalid": "Type a day as 2027-05-31."},
            )
            label = f"N rate of application {row + 1}, lb per 1000 sq ft"
            self.fields[f"rate_{row}"] = AboveZeroField(label=label, required=False)
            self.fields[f"rate_{row}"].widget.attrs["aria-label"] = label
        self.fields.update(law_fields(with_day=False))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        seen: set[date | None] = set()
        for row in range(self.row_count):
            day, rate = cleaned.get(f"day_{row}"), cleaned.get(f"rate_{row}")
            if day and rate is None and f"rate_{row}" not in self.errors:
                self.add_error(f"rate_{row}", _("How much nitrogen on this day?"))
            if rate is not None and day is None and f"day_{row}" not in self.errors:
                self.add_error(f"day_{row}", _("On which day?"))
            if day and day in seen:
                self.add_error(f"day_{row}", _("This day stands twice; put it into one row."))
            seen.add(day)
        return cleaned

    def applications(self, analysis: dict[str, float]) -> Iterator[Application]:
        """One for each filled row; a valid form only."""
        answers = circumstances_of(self.cleaned_data)
        for row in range(self.row_count):
            day, rate = self.cleaned_data[f"day_{row}"], self.cleaned_data[f"rate_{row}"]
            if day and rate:
                yield at_n_rate(analysis, rate, day, answers)

    def spray_place(self) -> SprayPlace | None:
        chosen = self.cleaned_data["ship_to"]
        return place_of(
            self.ship_tos.filter(pk=chosen).first() if is_key(chosen) else None,
            state=self.cleaned_data["law_state"],
            county=self.cleaned_data["law_county"],
            place=self.cleaned_data["law_place"],
        )

    @property
    def is_begun(self) -> bool:
        """Whether any day or rate is typed."""
        names = [name for row in range(self.row_count) for name in (f"day_{row}", f"rate_{row}")]
        return any(self.data.get(name, "").strip() for name in names)

    @property
    def has_answers(self) -> bool:
        """Whether any of the law's questions is answered, which are folded away otherwise."""
        fields = [question.field for question in QUESTIONS]
        return any(self.data.get(name) or name in self.errors for name in fields)


def season_ship_tos(user: User, company: int | None) -> QuerySet[ShipTo]:
    """Addresses of the blend's own customer; for the plant's book all that the person may see."""
    places: QuerySet[ShipTo] = ShipTo.objects.visible_to(user).filter(active=True)
    if company is not None:
        places = places.filter(company=company)
    elif has_role(user, Role.CUSTOMER):
        places = places.filter(company=user.company_id)
    return places.select_related("company")


def ship_to_words(company: int | None) -> Callable[[ShipTo], str]:
    """An address in a choice; beside those of other customers with whose it is."""
    if company is not None:
        return str
    return lambda place: f"{place.company}: {place}"


@dataclass(frozen=True, slots=True)
class DayResult:
    """One application with its findings; ``worst`` and ``words`` are what they come to."""

    day: date
    n_lb: float
    product_fl_oz: float
    quick_n_lb: float
    findings: tuple[FindingRow, ...]
    worst: str
    words: str

    @property
    def noteworthy(self) -> tuple[FindingRow, ...]:
        return tuple(row for row in self.findings if row.slug != "passes")


@dataclass(frozen=True, slots=True)
class SeasonPlan:
    """The checked season: each day, then the sums of each year; or why there is none."""

    days: tuple[DayResult, ...] = ()
    yearly: tuple[FindingRow, ...] = ()
    report: LawReport | None = None
    total_n_lb: float = 0.0
    problem: str = ""


_ANNUAL: Final = frozenset(topic.value for topic in ANNUAL)


def season_plan(form: SeasonForm, revision: BlendRevision) -> SeasonPlan:
    """Check a valid form's applications of a saved revision."""
    analysis = {key: pct for key, pct in revision.analysis.items() if key != "N"}
    if not any(key.startswith("N.") for key in analysis):
        return SeasonPlan(problem="The plan goes by nitrogen, and this blend holds none.")
    place = form.spray_place()
    if place is None:
        return SeasonPlan(problem="Choose a ship-to or type the state to read its rules.")
    plan = sorted(form.applications(analysis), key=lambda item: item.on or date.max)
    if not plan:
        return SeasonPlan(problem="Type the day and N rate of each application.")
    report = season_report(place, plan)
    return SeasonPlan(
        days=tuple(_day(item, report, revision.density_lb_per_gal) for item in plan),
        yearly=tuple(row for row in report.findings if row.topic in _ANNUAL),
        report=report,
        total_n_lb=sum(item.total_n_lb for item in plan),
    )


def _day(item: Application, report: LawReport, density_lb_per_gal: float) -> DayResult:
    assert item.on is not None  # noqa: S101 - the form asks for a day with every rate
    worst, words = report.on_day(item.on)
    return DayResult(
        day=item.on,
        n_lb=item.total_n_lb,
        product_fl_oz=item.product_lb_per_1000sqft / density_lb_per_gal * FL_OZ_PER_GAL,
        quick_n_lb=item.total_n_lb * (1.0 - item.slow_pct / 100.0),
        findings=tuple(
            row for row in report.findings if row.on == item.on and row.topic not in _ANNUAL
        ),
        worst=worst,
        words=words,
    )
