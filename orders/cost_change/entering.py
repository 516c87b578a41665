"""The sheet new costs are entered on: typed, as a percentage, or from a file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.csv_upload import MOST_BYTES
from blendshop.errors import BadInput
from blendshop.searched_rows import FEW_KNOWN, SEARCH, offer_searched
from formulas.models import BaseStock, CostUnit
from formulas.models.base_stock import stocks_named
from orders.cost_change.actions.proposing import NewCost
from orders.cost_change.cost_letter import LetterError, read_letter, risen
from orders.models import CostChange

ROWS: Final = 6
#: Rows added at a time, and how many a sheet may have; a longer letter comes as a file.
MORE_ROWS: Final = 4
MOST_ROWS: Final = 60
MOST_FILE_BYTES: Final = MOST_BYTES


class LetterForm(forms.Form):
    """What the costs go by, and perhaps a file of them."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=120,
        help_text=gettext_lazy("Such as “Cost letter of December” or “What if urea +15 %”."),
    )
    letter = forms.FileField(
        label=gettext_lazy("CSV file"),
        required=False,
        help_text=gettext_lazy(
            "As the table of the base stocks: code,field,value,unit with the field cost; the unit"
            " is ton, lb, gal or % for a rise, and may stay empty."
        ),
    )


class CostRowForm(forms.Form):
    """One stock with its new cost, or by how much it rises."""

    stock = forms.ModelChoiceField(
        BaseStock.objects.none(),
        label=gettext_lazy("Stock"),
        to_field_name="code",
        required=False,
        empty_label=gettext_lazy("choose"),
    )
    amount = forms.DecimalField(
        label=gettext_lazy("New cost"),
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=4,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 8}),
    )
    unit = forms.ChoiceField(
        label=gettext_lazy("Unit"),
        required=False,
        choices=[
            ("", gettext_lazy("as bought")),
            *((unit.value, f"$/{unit.value}") for unit in CostUnit),
        ],
    )
    by_pct = forms.DecimalField(
        label=gettext_lazy("or rises by, %"),
        required=False,
        min_value=-100,
        max_value=1000,
        max_digits=6,
        decimal_places=2,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 5}),
    )

    def __init__(self, *args: Any, number: int, costs_today: Mapping[str, NewCost], **kwargs: Any):
        kwargs["prefix"] = f"row{number}"
        super().__init__(*args, **kwargs)
        self.costs_today = costs_today
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = f"{field.label}, {number}"
        offer_searched(
            self,
            "stock",
            BaseStock.objects.active(),
            find=stocks_named,
            url=f"{reverse('stock_options')}?active=1",
            words=self.data.get(f"{self.prefix}-stock{SEARCH}", ""),
            chosen=self.data.get(f"{self.prefix}-stock") or self.initial.get("stock"),
            few=FEW_KNOWN,
        )
        self.fields["stock"].widget.attrs["aria-label"] = f"{self.fields['stock'].label}, {number}"

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or {}
        stock, amount, by_pct = (typed.get(name) for name in ("stock", "amount", "by_pct"))
        if self.errors or (stock is None and amount is None and by_pct is None):
            return typed
        if stock is None:
            self.add_error("stock", _("Choose the stock."))
        elif (amount is None) == (by_pct is None):
            self.add_error("amount", _("Give its new cost, or by how many percent it rises."))
        elif stock.code not in self.costs_today and by_pct is not None:
            self.add_error("by_pct", _("It has no cost today that could rise."))
        elif stock.code not in self.costs_today and not typed.get("unit"):
            self.add_error("unit", _("Say its unit: it has no cost yet."))
        return typed

    def cost(self) -> tuple[str, NewCost] | None:
        """Code and new cost of a row that has any."""
        stock = self.cleaned_data.get("stock")
        if stock is None:
            return None
        today = self.costs_today.get(stock.code)
        by_pct: Decimal | None = self.cleaned_data["by_pct"]
        if by_pct is not None and today is not None:
            return stock.code, risen(today, by_pct)
        unit = self.cleaned_data["unit"] or (today.unit if today else "")
        return stock.code, NewCost(self.cleaned_data["amount"], unit)


class CostSheet:
    """The whole sheet, blank, of new costs that are there, or as it was sent."""

    def __init__(
        self,
        today: date,
        *,
        change: CostChange | None = None,
        data: Mapping[str, Any] | None = None,
        files: Any = None,
        more: bool = False,
    ) -> None:
        stocks = BaseStock.objects.for_engine_on(today)
        self._stocks = {stock.code: stock for stock in stocks}
        self._costs = {
            code: NewCost(entry.amount, entry.unit)
            for code, stock in self._stocks.items()
            if (entry := stock.cost_on(today)) is not None
        }
        there = [] if change is None else list(change.costs.select_related("stock"))
        sent = self._rows_sent(data)
        number = sent + (MORE_ROWS if more else 0) if data else max(ROWS, len(there) + 2)
        initial = dict(data.items()) if more and data else {}
        if change is not None and not data:
            initial = {"name": change.name}
        # More rows are asked for: what was typed stays, and nothing is judged yet.
        # Files alone would bind the form too, and it would lose its name.
        self.form = LetterForm(None if more else data, None if more else files, initial=initial)
        self.rows = [
            CostRowForm(
                None if more else data,
                number=place + 1,
                costs_today=self._costs,
                initial=_typed(data, place + 1)
                if more
                else _initial(there[place])
                if not data and place < len(there)
                else {},
            )
            for place in range(min(number, MOST_ROWS))
        ]
        self.letter_errors: list[LetterError] = []
        self._letter: dict[str, NewCost] = {}

    @staticmethod
    def _rows_sent(data: Mapping[str, Any] | None) -> int:
        typed = str((data or {}).get("rows", ""))
        return min(int(typed), MOST_ROWS) if typed.isdecimal() and len(typed) < 4 else ROWS

    def is_valid(self) -> bool:
        """Whether all of it can be read; the lines of a file that cannot be are kept."""
        are_valid = [row.is_valid() for row in self.rows]
        are_valid.append(self._are_named_once())
        if not self.form.is_valid():
            return False
        if file := self.form.cleaned_data["letter"]:
            self._read(file)
        return all(are_valid) and not self.letter_errors and not self.form.errors

    def costs(self) -> dict[str, NewCost]:
        """By code; what is typed goes before what is in the file."""
        typed = [cost for row in self.rows if (cost := row.cost()) is not None]
        return {**self._letter, **dict(typed)}

    def refuse(self, error: BadInput) -> None:
        """Show what the action refused."""
        self.form.add_error("name" if "name" in error.fields else None, error.message)

    def _are_named_once(self) -> bool:
        seen: set[str] = set()
        for row in self.rows:
            stock = row.cleaned_data.get("stock")
            if stock is not None and stock.code in seen:
                row.add_error("stock", _("This stock stands above already."))
                return False
            seen |= {stock.code} if stock else set()
        return True

    def _read(self, file: UploadedFile[Any]) -> None:
        try:
            self._letter, self.letter_errors = read_letter(file.read(), self._stocks, self._costs)
        except BadInput as error:
            self.form.add_error("letter", error.message)


def _typed(data: Mapping[str, Any] | None, number: int) -> dict[str, Any]:
    names = ("stock", "amount", "unit", "by_pct")
    return {name: (data or {}).get(f"row{number}-{name}", "") for name in names}


def _initial(cost: Any) -> dict[str, Any]:
    if cost.by_pct is not None:
        return {"stock": cost.stock.code, "by_pct": f"{cost.by_pct.normalize():f}"}
    amount = f"{cost.amount.normalize():f}"
    return {"stock": cost.stock.code, "amount": amount, "unit": cost.unit}
