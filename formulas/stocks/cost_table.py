"""Every stock of the catalogue and of the shipped list in one table, with what it costs today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from blendshop.money import unit_price
from formulas import reference
from formulas.engine.label.grade import grade_of
from formulas.models import BaseStock, StockCost
from formulas.reference.facts import CostUnit
from formulas.stocks.actions.shipped import StockPrice
from formulas.stocks.cost_moves import CostMove, cost_move


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
    """One line of the table; ``known`` when it is in the catalogue, ``has_cost`` on the day.

    ``entry`` is the cost of today, ``coming`` the next one that is entered for a later day.
    """

    code: str
    name: str
    grade: str
    density_lb_per_gal: float
    known: bool
    entry: StockCost | None
    coming: StockCost | None
    form: CostRowForm

    @property
    def has_cost(self) -> bool:
        return self.entry is not None

    @property
    def per_lb_today(self) -> Decimal | None:
        """What it costs today, dollars per pound as shown."""
        return None if self.entry is None else unit_price(self.entry.per_lb())

    @property
    def coming_per_lb(self) -> Decimal | None:
        """What is entered for a later day, dollars per pound as shown."""
        return None if self.coming is None else unit_price(self.coming.per_lb())

    @property
    def typed(self) -> StockPrice | None:
        """What was typed differently from what stands today; None where it cannot be read."""
        if not self.form.is_bound or not self.form.is_valid():
            return None
        amount: Decimal | None = self.form.cleaned_data["amount"]
        unit: str = self.form.cleaned_data["unit"]
        stands = self.entry and (self.entry.amount, self.entry.unit)
        return None if amount is None or stands == (amount, unit) else StockPrice(amount, unit)

    @property
    def move(self) -> CostMove | None:
        """From the cost of today to what was typed, both per pound."""
        typed = self.typed
        if typed is None:
            return None
        stock = BaseStock(
            code=self.code, name=self.name, density_lb_per_gal=self.density_lb_per_gal
        )
        return cost_move(stock, self.entry, typed.amount, typed.unit)


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
        return {row.code: row.typed for row in self.rows if row.typed is not None}

    def refuse(self, wrong: Mapping[str, str]) -> None:
        """Show what the action refused, in the rows of its stocks."""
        for row in self.rows:
            if row.code in wrong:
                row.form.add_error("amount", wrong[row.code])


def cost_row(today: date, data: Mapping[str, Any], code: str) -> CostRow | None:
    """The row of one stock as it is being typed; None where there is none of that code."""
    return next(iter(_rows(today, data, only=[code])), None)


def _rows(
    today: date, data: Mapping[str, Any] | None, only: Sequence[str] | None = None
) -> list[CostRow]:
    rows = BaseStock.objects.for_engine()
    stocks = {row.code: row for row in (rows if only is None else rows.filter(code__in=only))}
    usual = {cost.stock: cost.per.value for cost in reference.demo_costs()}
    shipped = {facts.code: facts for facts in reference.base_stocks()}
    found = []
    for code in [*shipped, *(code for code in stocks if code not in shipped)]:
        if only is not None and code not in only:
            continue
        stock = stocks.get(code)
        if stock is not None and not stock.is_active:
            continue
        name = stock.name if stock else shipped[code].name
        analysis = stock.analysis() if stock else shipped[code].analysis
        entry = stock.cost_on(today) if stock else None
        coming = _coming(stock, today)
        # The unit a stock is bought in is kept. Of one that never had a cost the demo says in
        # which such a stock is usually priced.
        initial = {"unit": coming.unit if coming else usual.get(code, CostUnit.TON.value)}
        if entry is not None:
            initial = {"amount": _plain(entry.amount), "unit": entry.unit}
        form = CostRowForm(data, prefix=code, initial=initial, stock=name)
        found.append(
            CostRow(
                code=code,
                name=name,
                grade=grade_of(analysis),
                density_lb_per_gal=(stock or shipped[code]).density_lb_per_gal,
                known=stock is not None,
                entry=entry,
                coming=coming,
                form=form,
            )
        )
    return found


def _coming(stock: BaseStock | None, today: date) -> StockCost | None:
    entries = [] if stock is None else list(stock.costs.all())
    later = [cost for cost in entries if cost.effective_from > today]
    return min(later, key=lambda cost: (cost.effective_from, -cost.pk), default=None)


def _plain(amount: Decimal) -> str:
    """``374`` for 374.0000, ``0.1950`` as ``0.195``."""
    return f"{amount:f}".rstrip("0").rstrip(".") if amount % 1 or amount else "0"
