"""Every stock of the catalogue and of the shipped list in one table, with what it costs today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from formulas import reference
from formulas.engine.label.grade import grade_of
from formulas.models import BaseStock
from formulas.reference.facts import CostUnit
from formulas.stocks.actions.shipped import StockPrice


class DayForm(forms.Form):
    effective_from = forms.DateField(
        label=_("Costs hold from"), widget=forms.DateInput(attrs={"type": "date"})
    )


class CostRowForm(forms.Form):
    """What one stock costs; empty leaves it as it is, in the catalogue or out of it."""

    amount = forms.DecimalField(
        label=_("Cost"),
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=4,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 8}),
        error_messages={"invalid": _("Type a cost, such as 374 or 0.195.")},
    )
    unit = forms.ChoiceField(
        label=_("Unit"), choices=[(unit.value, f"$/{unit.value}") for unit in CostUnit]
    )

    def __init__(self, *args: Any, stock: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label}, {stock}"


@dataclass(frozen=True, slots=True)
class CostRow:
    """One line of the table; ``known`` when it is in the catalogue, ``has_cost`` on the day."""

    code: str
    name: str
    grade: str
    known: bool
    has_cost: bool
    form: CostRowForm


class CostTable:
    """The table as it stands on a day, or as it was sent."""

    def __init__(self, today: date, data: Mapping[str, Any] | None = None) -> None:
        self.day = DayForm(data, initial={"effective_from": today})
        self.rows = tuple(_rows(today, data))

    @property
    def costed(self) -> int:
        return sum(row.has_cost for row in self.rows)

    @property
    def without_cost(self) -> int:
        """Stocks of the catalogue that every blend leaves out for want of a cost."""
        return sum(row.known and not row.has_cost for row in self.rows)

    def is_valid(self) -> bool:
        forms_are_valid = [row.form.is_valid() for row in self.rows]
        return self.day.is_valid() and all(forms_are_valid)

    def costs(self) -> dict[str, StockPrice]:
        """What was typed differently from what stands, by code."""
        found = {}
        for row in self.rows:
            amount: Decimal | None = row.form.cleaned_data["amount"]
            if amount is not None and {"amount", "unit"} & set(row.form.changed_data):
                found[row.code] = StockPrice(amount, row.form.cleaned_data["unit"])
        return found

    def refuse(self, wrong: Mapping[str, str]) -> None:
        """Show what the action refused, in the rows of its stocks."""
        for row in self.rows:
            if row.code in wrong:
                row.form.add_error("amount", wrong[row.code])


def _rows(today: date, data: Mapping[str, Any] | None) -> list[CostRow]:
    stocks = {row.code: row for row in BaseStock.objects.for_engine()}
    usual = {cost.stock: cost.per.value for cost in reference.demo_costs()}
    shipped = {facts.code: facts for facts in reference.base_stocks()}
    found = []
    for code in [*shipped, *(code for code in stocks if code not in shipped)]:
        stock = stocks.get(code)
        if stock is not None and not stock.is_active:
            continue
        name = stock.name if stock else shipped[code].name
        analysis = stock.analysis() if stock else shipped[code].analysis
        entry = stock.cost_on(today) if stock else None
        # The unit alone is taken from the demo: the one such a stock is usually priced in.
        initial = {"unit": usual.get(code, CostUnit.TON.value)}
        if entry is not None:
            initial = {"amount": _plain(entry.amount), "unit": entry.unit}
        form = CostRowForm(data, prefix=code, initial=initial, stock=name)
        grade = grade_of(analysis)
        found.append(CostRow(code, name, grade, stock is not None, entry is not None, form))
    return found


def _plain(amount: Decimal) -> str:
    """``374`` for 374.0000, ``0.1950`` as ``0.195``."""
    return f"{amount:f}".rstrip("0").rstrip(".") if amount % 1 or amount else "0"
