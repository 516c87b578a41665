"""The questions the law asks, as form fields, and the answers as the engine takes them.

Every field is named ``q_`` and the name of the answer in ``Circumstances``, so that a finding
that asks for something can point at its field. What is left open stays "not answered".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import TYPE_CHECKING, Any, Final

from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from blendshop.number_fields import NumberField
from formulas.engine.law import GRASSES, Circumstances
from formulas.wording.law_rules import grass_words

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

_YES_NO: Final = [("", _("not answered")), ("yes", _("yes")), ("no", _("no"))]
_SMALL: Final = "form-control-sm"
_SELECT: Final = "form-select-sm"


class Kind(Enum):
    """How a question is answered."""

    YES_NO = auto()
    NUMBER = auto()
    GRASS = auto()


@dataclass(frozen=True, slots=True)
class Question:
    """One question; ``name`` is that of the answer in ``Circumstances``."""

    name: str
    words: _StrPromise
    kind: Kind = Kind.YES_NO

    @property
    def field(self) -> str:
        return f"q_{self.name}"


#: What nearly every law asks; the others matter in some places only.
FIRST: Final = (
    Question("professional", _("Professional applicator")),
    Question("soil_test_shows_p_need", _("Soil test shows need of P")),
    Question("soil_test_age_months", _("Age of soil test, months"), Kind.NUMBER),
    Question("new_lawn", _("New lawn")),
    Question("targeted_spray", _("Targeted spray equipment")),
    Question("distance_to_water_ft", _("Distance to water, ft"), Kind.NUMBER),
    Question("n_earlier_this_year_lb", _("N so far this year, lb"), Kind.NUMBER),
    Question("grass", _("Grass"), Kind.GRASS),
)
MORE: Final = (
    Question("repair", _("Repair of a lawn")),
    Question("trained_golf", _("Golf course, trained staff")),
    Question("days_since_seeding", _("Days since seeding or sod"), Kind.NUMBER),
    Question("natural_buffer_ft", _("Natural buffer at water, ft"), Kind.NUMBER),
    Question("enhanced_efficiency", _("Enhanced-efficiency N")),
    Question("p2o5_earlier_this_year_lb", _("P2O5 so far this year, lb"), Kind.NUMBER),
    Question("frozen_or_snow", _("Ground frozen or snow")),
    Question("saturated", _("Soil saturated")),
    Question("heavy_rain_expected", _("Heavy rain expected")),
    Question("storm_warning", _("Storm or flood warning")),
)
QUESTIONS: Final = (*FIRST, *MORE)
PLACE: Final = ("law_state", "law_county", "law_place")
DAY: Final = "law_on"
#: All fields of this module, in the order they stand on a page.
FIELDS: Final = (*PLACE, DAY, *(question.field for question in QUESTIONS))
_BY_NAME: Final = {question.name: question for question in QUESTIONS}
#: What no form asks: it is taken from the label.
_NO_FIELD: Final = {"label_text": _("text of the label")}


def law_fields(*, with_day: bool = True) -> Iterator[tuple[str, forms.Field]]:
    """Place, day and questions for a form; none of them is required."""
    yield (
        "law_state",
        forms.CharField(
            label=_("State"),
            required=False,
            max_length=2,
            validators=[RegexValidator(r"^[A-Za-z]{2}\Z", _("Two letters, such as MD."))],
            widget=forms.TextInput({"class": _SMALL, "autocomplete": "off", "size": 2}),
        ),
    )
    for name, label in (("law_county", _("County")), ("law_place", _("City or town"))):
        widget = forms.TextInput({"class": _SMALL, "autocomplete": "off"})
        yield name, forms.CharField(label=label, required=False, max_length=80, widget=widget)
    if with_day:
        yield (
            DAY,
            forms.DateField(
                label=_("Day of spraying"),
                required=False,
                widget=forms.DateInput({"class": _SMALL, "type": "date"}, format="%Y-%m-%d"),
                input_formats=["%Y-%m-%d"],
                error_messages={"invalid": _("Type a day as 2027-05-31.")},
            ),
        )
    for question in QUESTIONS:
        yield question.field, _field(question)


class _AmountField(NumberField):
    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and not 0 <= value <= 100_000:
            raise forms.ValidationError(_("Must be a number, 0 or more."))


def _field(question: Question) -> forms.Field:
    if question.kind is Kind.NUMBER:
        return _AmountField(label=question.words, required=False)
    choices: list[tuple[str, str | _StrPromise]] = [*_YES_NO]
    if question.kind is Kind.GRASS:
        grasses = [(grass, grass_words(grass)) for grass in GRASSES]
        choices = [("", _("not answered")), *grasses]
    widget = forms.Select({"class": _SELECT})
    return forms.ChoiceField(label=question.words, choices=choices, required=False, widget=widget)


def circumstances_of(cleaned: Mapping[str, Any]) -> Circumstances:
    """The answers of a form; a refused or missing one counts as not answered."""
    answers: dict[str, Any] = {}
    for question in QUESTIONS:
        value = cleaned.get(question.field)
        if value in (None, ""):
            continue
        answers[question.name] = value == "yes" if question.kind is Kind.YES_NO else value
    return Circumstances(**answers)


def asked_in_words(name: str) -> tuple[str, str]:
    """Field and words of something a finding asks for; the field is empty if no form has it."""
    if name == "on":
        return DAY, gettext("Day of spraying")
    question = _BY_NAME.get(name)
    if question is not None:
        return question.field, str(question.words)
    return "", str(_NO_FIELD[name])
