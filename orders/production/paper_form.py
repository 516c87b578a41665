"""The form that asks for every weight and lot of a load weighed from the printed ticket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.forms import BoundField
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.errors import DomainError
from orders.models import StockLot
from orders.production.actions.paper_ticket import PaperWeight
from orders.production.confirmations import Asked, Question, Unconfirmed
from orders.production.forms import NO_SUCH_LOT, KeyForm
from orders.production.step_rows import StepRow, lot_words

#: A weighing may empty one lot and begin the next.
_LOTS_A_STEP: Final = (1, 2)
_DATETIME: Final = "%Y-%m-%dT%H:%M"


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One weight of the form: its fields, and what is asked about it."""

    lot: BoundField
    mass: BoundField
    confirmed: str
    asked: tuple[Asked, ...]
    ticked: frozenset[str]
    is_first: bool


@dataclass(frozen=True, slots=True)
class PaperStep:
    row: StepRow
    lots: tuple[str, ...]
    lines: tuple[PaperLine, ...]


class PaperTicketForm(KeyForm):
    """For each weighing the lot and the actual weight, and a second lot where one was not enough.

    A weighing with something charged already needs nothing more.
    """

    weighed_at = forms.DateTimeField(
        label=_("When it was weighed (empty: today)"),
        required=False,
        input_formats=[_DATETIME],
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=_DATETIME),
    )

    def __init__(self, *args: Any, rows: Sequence[StepRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = rows
        self._asked: dict[str, tuple[Asked, ...]] = {}
        for row in rows:
            for count in _LOTS_A_STEP:
                place = _place(row, count)
                label = _("Lot") if count == 1 else _("Second lot")
                self.fields[f"lot_{place}"] = forms.CharField(
                    label=label, required=False, max_length=20
                )
                self.fields[f"mass_{place}"] = forms.DecimalField(
                    label=_("Weighed, lb"),
                    required=count == 1 and not row.step.charges,
                    max_digits=11,
                    decimal_places=3,
                    min_value=Decimal("0.001"),
                    error_messages={"required": _("Write down what was weighed.")},
                )
                self.fields[f"confirmed_{place}"] = forms.MultipleChoiceField(
                    required=False, choices=[(each, each) for each in Question]
                )
        self.order_fields(["weighed_at"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self._lots: dict[str, StockLot | None] = {}
        for row in self.rows:
            for count in _LOTS_A_STEP:
                self._clean_line(cleaned, row, count)
        return cleaned

    def _clean_line(self, cleaned: Mapping[str, Any], row: StepRow, count: int) -> None:
        place = _place(row, count)
        code, mass = (cleaned.get(f"lot_{place}") or "").strip(), cleaned.get(f"mass_{place}")
        lot = StockLot.objects.filter(code__iexact=code).first() if code else None
        if code and lot is None:
            self.add_error(f"lot_{place}", format_lazy(NO_SUCH_LOT, code=code))
        if mass is not None and not code and row.needs_lot:
            self.add_error(f"lot_{place}", _("Write down which lot it was."))
        if code and mass is None and f"mass_{place}" not in self.errors:
            self.add_error(f"mass_{place}", _("Write down what was weighed."))
        self._lots[place] = lot

    def weights(self) -> list[PaperWeight]:
        """Every weight that was written down, in charging order; only of a valid form."""
        places = [(row, _place(row, count)) for row in self.rows for count in _LOTS_A_STEP]
        return [
            PaperWeight(
                place=place,
                step=row.number,
                lot=self._lots[place],
                mass_lb=self.cleaned_data[f"mass_{place}"],
                confirmed=self.cleaned_data[f"confirmed_{place}"],
            )
            for row, place in places
            if self.cleaned_data[f"mass_{place}"] is not None
        ]

    def refuse(self, reasons: Mapping[str, DomainError]) -> None:
        """Put each reason beside its weight, and a question where one may be said yes to."""
        for place, reason in reasons.items():
            if isinstance(reason, Unconfirmed):
                self._asked[place] = reason.asked
            side = "lot" if "lot" in reason.fields else "mass"
            self.add_error(f"{side}_{place}", reason.message)

    def steps(self) -> list[PaperStep]:
        """What the page draws."""
        return [
            PaperStep(
                row=row,
                lots=tuple(lot_words(lot) for lot in row.lots),
                lines=tuple(self._line(row, count) for count in _LOTS_A_STEP),
            )
            for row in self.rows
        ]

    def _line(self, row: StepRow, count: int) -> PaperLine:
        place = _place(row, count)
        name = f"confirmed_{place}"
        ticked = self.cleaned_data.get(name, []) if self.is_bound else []
        return PaperLine(
            lot=self[f"lot_{place}"],
            mass=self[f"mass_{place}"],
            confirmed=name,
            asked=self._asked.get(place, ()),
            ticked=frozenset(ticked),
            is_first=count == 1,
        )


def _place(row: StepRow, count: int) -> str:
    return f"{row.number}_{count}"
