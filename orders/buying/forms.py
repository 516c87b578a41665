"""How far ahead to look, and the table of supplier terms."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.forms import modelformset_factory
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext_lazy

from blendshop.form_fields import RowForm, RowSet, offer_choices
from formulas.models import BaseStock
from orders.buying.expected import USUAL_WEEKS, WEEKS_AHEAD
from orders.buying.purchase_list import plain_pounds
from orders.models import SupplierTerms
from orders.records.forms import DayField, KeyedForm, PoundsInput


class WeeksForm(forms.Form):
    """The weeks ahead; the usual ones where none are asked for."""

    weeks = forms.TypedChoiceField(
        label=gettext_lazy("Weeks ahead"),
        choices=[(weeks, ngettext_lazy("%d week", "%d weeks") % weeks) for weeks in WEEKS_AHEAD],
        coerce=int,
        required=False,
    )

    def clean_weeks(self) -> int:
        return int(self.cleaned_data["weeks"] or USUAL_WEEKS)


class TermsForm(RowForm):
    """One supplier of one stock. ``stocks`` are those of the page, by key."""

    stock = forms.TypedChoiceField(coerce=int, widget=forms.HiddenInput)
    least_order_lb = PoundsInput(label=gettext_lazy("Least order, lb"), min_value=0, initial=0)
    pack_lb = PoundsInput(label=gettext_lazy("Sold in steps of, lb"))

    class Meta:
        model = SupplierTerms
        fields = (
            "supplier", "lead_days", "least_order_lb", "pack_lb", "preferred", "price_note",
        )  # fmt: skip
        labels = {
            "supplier": gettext_lazy("Supplier"),
            "lead_days": gettext_lazy("Days to delivery"),
            "preferred": gettext_lazy("Preferred"),
            "price_note": gettext_lazy("Price note"),
        }
        help_texts = {"lead_days": "", "preferred": ""}

    def __init__(self, *args: Any, stocks: Mapping[int, BaseStock], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stocks = stocks
        offer_choices(self, "stock", [(str(pk), str(each)) for pk, each in stocks.items()])
        if self.instance.pk:
            self.initial.update(
                {
                    "stock": self.instance.stock_id,
                    "least_order_lb": _without_zeros(self.instance.least_order_lb),
                    "pack_lb": _without_zeros(self.instance.pack_lb),
                }
            )
        for name, field in self.fields.items():
            field.widget.attrs["aria-label"] = str(field.label)
            if name in ("lead_days", "least_order_lb", "pack_lb"):
                field.widget = forms.TextInput(
                    attrs={
                        "aria-label": str(field.label),
                        "inputmode": "decimal",
                        "autocomplete": "off",
                    }
                )

    def has_changed(self) -> bool:
        """A row that only says its stock was left empty."""
        return bool(set(self.changed_data) - {"stock"})

    @property
    def of_stock(self) -> BaseStock | None:
        """The stock of the row as it is shown."""
        chosen = str(self["stock"].value())
        return self.stocks.get(int(chosen)) if chosen.isdigit() else None

    def _post_clean(self) -> None:
        """The row knows its stock before its own rules are asked."""
        stock = self.cleaned_data.get("stock")
        if stock is not None:
            self.instance.stock = self.stocks[stock]
        super()._post_clean()  # type: ignore[misc] # no stub


class ChangedPurchaseForm(forms.Form):
    """What the supplier says by now."""

    lb = PoundsInput(label=gettext_lazy("Pounds"), min_value=Decimal("0.001"))
    expected_on = DayField(label=gettext_lazy("Expected on"))
    note = forms.CharField(label=gettext_lazy("Note"), max_length=120, required=False)


class PurchaseForm(KeyedForm, ChangedPurchaseForm):
    """What was ordered from whom, and when it is to come."""

    supplier = forms.CharField(label=gettext_lazy("Supplier"), max_length=120)


class StorageForm(forms.Form):
    """Room for a stock; empty: not known."""

    most_lb = PoundsInput(
        label=gettext_lazy("Storage takes, lb"), min_value=Decimal("0.001"), required=False
    )


def _without_zeros(lb: Decimal) -> Decimal:
    """The same mass as a person types it: a field compares numbers, so it stays one."""
    return Decimal(plain_pounds(lb))


class TermsRows(RowSet):
    def add_fields(self, form: RowForm, index: int | None) -> None:
        super().add_fields(form, index)
        if delete := form.fields.get("DELETE"):
            delete.widget.attrs["aria-label"] = str(delete.label)

    def clean(self) -> None:
        super().clean()
        preferred: set[int] = set()
        for form in _terms_forms(self):
            row = form.cleaned_data if form.is_bound and not form.errors else {}
            if not row.get("preferred") or row.get("DELETE") or not _counts(form):
                continue
            stock = row["stock"]
            if stock in preferred:
                raise forms.ValidationError(
                    _("Prefer one supplier of {stock}.").format(stock=form.stocks[stock].code)
                )
            preferred.add(stock)


def _terms_forms(rows: TermsRows) -> list[TermsForm]:
    return [form for form in rows.forms if isinstance(form, TermsForm)]


def _counts(form: TermsForm) -> bool:
    return bool(form.instance.pk) or form.has_changed()


#: So many stocks stand on a page of the table.
STOCKS_A_PAGE: Final = 40


def terms_rows(
    stocks: Mapping[int, BaseStock], data: Mapping[str, Any] | None, *, one_more: bool
) -> TermsRows:
    """The terms of these stocks, and an empty row for each without any.

    ``one_more``: an empty row also where there are some, for another supplier.
    """
    rows = SupplierTerms.objects.filter(stock__in=stocks).select_related("stock")
    known = set() if one_more else {row.stock_id for row in rows}
    empty = [
        {"stock": pk, "preferred": not one_more or not rows} for pk in stocks if pk not in known
    ]
    formset = modelformset_factory(
        SupplierTerms,
        form=TermsForm,
        formset=TermsRows,
        extra=len(empty),
        can_delete=True,
        can_delete_extra=False,
    )
    return formset(  # type: ignore[return-value] # the factory's stub does not know the class
        data, queryset=rows, initial=empty, form_kwargs={"stocks": stocks}, prefix="terms"
    )


def by_stock(rows: TermsRows) -> list[TermsForm]:
    """The rows as they are shown: by stock, and the empty one behind those that are there."""
    return sorted(_terms_forms(rows), key=_place)


def _place(form: TermsForm) -> tuple[str, bool, str]:
    stock = form.of_stock
    return stock.code if stock else "", form.instance.pk is None, form.prefix or ""
