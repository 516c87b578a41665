"""Forms of lots, the trace and the tonnage report; what writes carries its idempotency key."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Exists, OuterRef
from django.http import QueryDict
from django.urls import reverse
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from blendshop.figures.readers import reader
from blendshop.form_fields import RowChoice, offer_rows
from blendshop.searched_rows import FEW_KNOWN, SEARCH, offer_searched
from blendshop.uploads import JPEG, PDF, PNG, accepted
from formulas.engine.composition import NAMES
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock
from formulas.models.base_stock import BaseStockQuerySet, stocks_named
from orders.inventory.actions.lot_quality import Certificate
from orders.inventory.plausibility import DENSITY, MASS, Asks, Doubt, doubts
from orders.models import StockLot, StockPurchase
from orders.records.forms import DayField, KeyedForm, PoundsInput
from orders.records.scanned import LONGEST_SCANNED

LARGEST_FILE_MB: Final = 10
_FIGURE: Final = "figure_"
_METAL: Final = "metal_"
_AGAIN: Final = "again_"


class LotFilter(forms.Form):
    """Search of the lots. A scanner types a lot's code here and goes straight to it."""

    q = forms.CharField(
        label=_("Scan or type a lot, a supplier's lot or a place"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
    )
    stock = forms.ModelChoiceField(
        BaseStock.objects.none(),
        label=_("Stock"),
        to_field_name="code",
        required=False,
        empty_label=_("all"),
    )
    state = forms.ChoiceField(
        label=_("State"),
        required=False,
        choices=[("", _("not used up")), *StockLot.State.choices, ("all", _("all"))],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        received = StockLot.objects.filter(stock=OuterRef("pk"))
        _offer_stocks(self, BaseStock.objects.filter(Exists(received)))


class StockChoice(forms.Form):
    """First step of receiving: which stock came in."""

    stock = forms.ModelChoiceField(
        BaseStock.objects.none(), label=_("Stock"), to_field_name="code", empty_label=_("choose")
    )

    def __init__(self, asked: QueryDict) -> None:
        words = asked.get(f"stock{SEARCH}", "")
        is_chosen = "stock" in asked and bool(asked["stock"] or not words)
        super().__init__(asked if is_chosen else None)
        _offer_stocks(self, BaseStock.objects.active(), words=words, only="?active=1")


def _offer_stocks(
    form: forms.Form, rows: BaseStockQuerySet, *, words: str = "", only: str = ""
) -> None:
    offer_searched(
        form,
        "stock",
        rows,
        find=stocks_named,
        url=f"{reverse('stock_options')}{only}",
        words=words or form.data.get(f"stock{SEARCH}", ""),
        chosen=form.data.get("stock"),
        few=FEW_KNOWN,
    )


class Tick(forms.CheckboxInput):
    """A box whose tick carries the figure it stands beside."""

    def __init__(self, figure: str) -> None:
        super().__init__(attrs={"class": "d-block"})
        self.figure = figure

    def format_value(self, value: Any) -> str:
        return self.figure

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Any:
        # Set for another figure, which was typed over since, it is no tick.
        typed = data.get(name)
        return typed if typed == self.figure else None


class AgainField(forms.FloatField):
    """The second word for a doubted figure: the figure typed again, or a tick that carries it."""

    def __init__(self, doubt: Doubt) -> None:
        if doubt.asks is Asks.TYPE_AGAIN:
            super().__init__(label=_("The same figure again"), required=False)
            return
        label = format_lazy(_("{figure} is right"), figure=reader().significant(doubt.given))
        super().__init__(label=label, required=False, widget=Tick(str(doubt.given)))


class CertificateForm(forms.Form):
    """What a certificate says: the stock's own contents, the density, metals, the file itself.

    Left empty, the catalogue's typical figure stands.
    """

    source = forms.CharField(
        label=_("Certificate"), max_length=300, required=False, help_text=_("Its number and date.")
    )
    density_lb_per_gal = forms.FloatField(
        label=_("Density, lb/gal"), min_value=5, max_value=20, required=False
    )
    density_temp_f = forms.FloatField(label=_("at °F"), min_value=0, max_value=150, required=False)
    file = forms.FileField(
        label=_("File"),
        required=False,
        help_text=format_lazy(_("PDF, PNG or JPEG, {mb} MB at the most."), mb=LARGEST_FILE_MB),
    )

    def __init__(self, *args: Any, stock: BaseStock, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stock = stock
        for key, pct in stock.analysis().items():
            self.fields[f"{_FIGURE}{key}"] = forms.FloatField(
                label=format_lazy(_("{nutrient}, %"), nutrient=NAMES[key]),
                min_value=0,
                max_value=100,
                required=False,
                help_text=format_lazy(_("Typical {pct} %."), pct=reader().significant(pct)),
            )
        for metal, name in METALS.items():
            self.fields[f"{_METAL}{metal}"] = forms.FloatField(
                label=format_lazy(_("{metal}, ppm"), metal=name),
                min_value=0,
                max_value=1_000_000,
                required=False,
            )

    @property
    def figure_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.removeprefix(_AGAIN).startswith(_FIGURE)]

    @property
    def metal_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(_METAL)]

    def clean(self) -> dict[str, Any]:
        """Every figure that needs a second word gets a field for it, and waits for that."""
        cleaned = super().clean() or {}
        for doubt in self._doubts(cleaned):
            self._ask_again(doubt, cleaned)
        return cleaned

    def _doubts(self, cleaned: dict[str, Any]) -> list[Doubt]:
        given = {name: value for name, value in cleaned.items() if value is not None}
        return doubts(
            self.stock,
            mass_lb=given.get(MASS),
            density_lb_per_gal=given.get(DENSITY),
            figures=_named(given, _FIGURE),
        )

    def _ask_again(self, doubt: Doubt, cleaned: dict[str, Any]) -> None:
        doubted = doubt.name if doubt.name in self.fields else f"{_FIGURE}{doubt.name}"
        name = f"{_AGAIN}{doubted}"
        field = AgainField(doubt)
        self.fields[name] = field
        self.order_fields(_beside(self.fields, doubted, name))
        typed = field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
        try:
            second = field.clean(typed or None)
        except forms.ValidationError as error:
            self.add_error(name, error)
            return
        if second is not None and isinstance(doubt.given, Decimal):
            second = Decimal(repr(second))
        if second == doubt.given:
            cleaned[name] = second
            return
        self.add_error(doubted, doubt.words)
        if second is not None:
            self.add_error(name, _("This is another figure."))

    def again(self) -> dict[str, Decimal | float]:
        """The figures given a second time, by the names of ``plausibility``."""
        return {
            name.removeprefix(_FIGURE): value
            for name, value in _named(self.cleaned_data, _AGAIN).items()
        }

    def clean_file(self) -> "UploadedFile[bytes] | None":
        """The file under a name of ours, its kind read from its bytes."""
        file: UploadedFile[bytes] | None = self.cleaned_data["file"]
        return file and accepted(
            file, (PDF, PNG, JPEG), name="certificate", what="file", most_mb=LARGEST_FILE_MB
        )

    def certificate(self) -> Certificate:
        """The cleaned form as the actions take it."""
        values = self.cleaned_data
        return Certificate(
            source=values["source"],
            figures=_named(values, _FIGURE),
            metals=_named(values, _METAL),
            density_lb_per_gal=values["density_lb_per_gal"],
            density_temp_f=values["density_temp_f"],
            file=values["file"],
        )


def _beside(names: Iterable[str], doubted: str, again: str) -> list[str]:
    """The names in their order, ``again`` right behind the doubted one."""
    rest = [name for name in names if name != again]
    at = rest.index(doubted) + 1
    return [*rest[:at], again, *rest[at:]]


def _named(values: dict[str, Any], prefix: str) -> dict[str, Any]:
    """The values given under names with a prefix, by the rest of the name."""
    return {
        name.removeprefix(prefix): value
        for name, value in values.items()
        if name.startswith(prefix) and value is not None
    }


class PurchaseChoice(RowChoice):
    def label_from_instance(self, row: StockPurchase) -> str:
        return _("{lb} from {supplier}, expected {day}").format(
            lb=reader().weighed(row.lb),
            supplier=row.supplier,
            day=reader().date(row.expected_on),
        )


class ReceiveForm(KeyedForm, CertificateForm):
    """A delivery and its certificate."""

    mass_lb = PoundsInput(label=_("Mass received, lb"), min_value=0)
    received_on = DayField(label=_("Received on"))
    expires_on = DayField(label=_("Last day of use"), required=False)
    supplier = forms.CharField(label=_("Supplier"), max_length=120, required=False)
    supplier_lot = forms.CharField(label=_("Supplier's lot"), max_length=60, required=False)
    location = forms.CharField(label=_("Tank or place"), max_length=80, required=False)
    held_reason = forms.CharField(
        label=_("Hold it, because"),
        max_length=400,
        required=False,
        help_text=_("Empty: it may be used at once."),
    )

    purchase = PurchaseChoice(
        StockPurchase.objects.none(),
        label=_("Ordered as"),
        required=False,
        empty_label=_("none of what is on the way"),
    )

    def __init__(self, *args: Any, asked: str = "", **kwargs: Any) -> None:
        kwargs["initial"] = {"received_on": timezone.localdate(), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        self._offer_purchases(asked)

    def _offer_purchases(self, asked: str) -> None:
        """What is on the way of the stock; the one that was asked for, else the first to come."""
        coming = StockPurchase.objects.on_the_way().filter(stock=self.stock)
        rows = list(coming)
        if not rows:
            del self.fields["purchase"]
            return
        offer_rows(self, "purchase", coming)
        chosen = next((row for row in rows if str(row.pk) == asked), rows[0])
        self.initial.setdefault("purchase", chosen.pk)
        if asked == str(chosen.pk):
            self.initial.setdefault("supplier", chosen.supplier)


class CountForm(KeyedForm):
    """What was found in the tank, against the balance that was shown."""

    found_lb = PoundsInput(label=_("Found, lb"), min_value=0)
    seen_lb = PoundsInput(widget=forms.HiddenInput)
    why = forms.CharField(label=_("Reason"), max_length=400)


class AdjustForm(KeyedForm):
    mass_lb = PoundsInput(label=_("Change, lb"), help_text=_("-2.5 takes off, 2.5 adds."))
    why = forms.CharField(label=_("Reason"), max_length=400)


class ExtendForm(forms.Form):
    expires_on = forms.DateField(
        label=_("New last day of use"), widget=forms.DateInput(attrs={"type": "date"})
    )
    why = forms.CharField(label=_("What was tested and found"), max_length=300)


class TransferForm(KeyedForm):
    mass_lb = PoundsInput(label=_("Mass, lb"), min_value=0)
    location = forms.CharField(label=_("To tank or place"), max_length=80)


class TraceForm(forms.Form):
    q = forms.CharField(
        label=_("Scan or type a lot, package serial, batch, order or supplier's lot"),
        max_length=LONGEST_SCANNED,
        required=False,
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "off"}),
    )
