"""The page as a whole: what stands, what was typed over it, and the rows that makes, unsaved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.utils.translation import gettext as _

from orders.models import FreightZone, Package, PricePolicy, PriceTier, QuantityBreak, StateFee
from orders.price_desk.forms import (
    BLENDS,
    BREAKS,
    FEES,
    TIERS,
    TOTES,
    ZONES,
    PolicyForm,
    PreviewForm,
    priceable_revisions,
)

#: What a policy is compared by; its day alone makes no new one.
FIGURES: Final = ("shrink_pct", "batch_fee", "blend_fee_per_gal", "lab_fee_per_batch")


@dataclass(frozen=True, slots=True)
class TypedPrices:
    """What differs from the tables: a policy of a day if its figures do, rows, rows taken out."""

    policy: PricePolicy | None
    rows: tuple[PriceTier | QuantityBreak | StateFee | FreightZone, ...]
    removed: tuple[QuantityBreak, ...]

    @property
    def is_empty(self) -> bool:
        return self.policy is None and not self.rows and not self.removed


class PriceDesk:
    """The forms, blank over the tables of a day or as they were sent."""

    def __init__(self, today: date, data: Mapping[str, Any] | None = None) -> None:
        policies = PricePolicy.objects.filter(effective_from__lte=today)
        self.standing = policies.first()
        self.coming = list(
            PricePolicy.objects.filter(effective_from__gt=today).order_by("effective_from", "pk")
        )
        begins = {name: getattr(self.standing, name) for name in FIGURES} if self.standing else {}
        self.policy = PolicyForm(data, prefix="policy", initial={**begins, "effective_from": today})
        self.tiers = TIERS(data, prefix="tiers", queryset=PriceTier.objects.all())
        self.breaks = BREAKS(data, prefix="breaks", queryset=QuantityBreak.objects.all())
        self.fees = FEES(data, prefix="fees", queryset=StateFee.objects.all())
        self.zones = ZONES(data, prefix="zones", queryset=FreightZone.objects.all())
        self.preview = PreviewForm(
            data, prefix="preview", places=self._places(), initial=self._shown_first()
        )

    @property
    def tables(self) -> tuple[Any, ...]:
        return (self.tiers, self.breaks, self.fees, self.zones)

    def is_valid(self) -> bool:
        """Whether all that would be saved can be; the preview's own fields are no matter of it."""
        return all([self.policy.is_valid(), *(table.is_valid() for table in self.tables)])

    def as_sent(self) -> dict[str, str]:
        """The page as a browser would send it, untouched."""
        tables = [form for table in self.tables for form in (table.management_form, *table.forms)]
        found = {}
        for form in (self.policy, self.preview, *tables):
            for field in form:
                value = field.value()
                if value is not None and value is not False:
                    found[field.html_name] = "on" if value is True else str(value)
        return found

    def problems(self) -> list[str]:
        """What cannot be read yet, in words."""
        forms = [self.policy, *(form for table in self.tables for form in table.forms)]
        found = [
            f"{form.fields[name].label}: {error}" if name in form.fields else str(error)
            for form in forms
            for name, errors in form.errors.items()
            for error in errors
        ]
        return found + [str(error) for table in self.tables for error in table.non_form_errors()]

    def typed(self) -> TypedPrices:
        """What of a valid page differs from what stands."""
        policy: PricePolicy = self.policy.instance
        stands = PricePolicy.objects.filter(effective_from__lte=policy.effective_from).first()
        is_new = stands is None or any(
            getattr(stands, name) != getattr(policy, name) for name in FIGURES
        )
        removed = {form.instance for form in self.breaks.deleted_forms if form.instance.pk}
        rows = [
            form.instance
            for table in self.tables
            for form in table.forms
            if form.has_changed() and not form.cleaned_data.get("DELETE")
        ]
        return TypedPrices(policy if is_new else None, tuple(rows), tuple(removed))

    def rows_of(self, table: Any) -> list[Any]:
        """The rows a table would have once saved."""
        return [
            form.instance
            for form in table.forms
            if (form.instance.pk or form.has_changed()) and not form.cleaned_data.get("DELETE")
        ]

    def _places(self) -> dict[str, list[tuple[str, str]]]:
        """The rows of tiers, zones and states by their place in the table, as they are called."""
        named = {
            name: [
                (str(place), str(form[column].value()))
                for place, form in enumerate(table.forms)
                if form[column].value()
            ]
            for name, table, column in (
                ("tier", self.tiers, "name"),
                ("zone", self.zones, "name"),
                ("state", self.fees, "state"),
            )
        }
        named["zone"].insert(0, ("", _("picked up at the plant")))
        named["state"].insert(0, ("", _("a state without a fee")))
        return named

    def _shown_first(self) -> dict[str, Any]:
        """The newest blends, the usual tier, the first zone that is driven to, and a fee."""
        found: dict[str, Any] = {
            f"blend{number}": pk
            for number, pk in enumerate(
                priceable_revisions().values_list("pk", flat=True)[:BLENDS], start=1
            )
        }
        found["package"] = (
            Package.objects.filter(active=True, kind__in=TOTES)
            .order_by("-fill_gal", "code")
            .values_list("pk", flat=True)
            .first()
        )
        for name, table, fits in (
            ("tier", self.tiers, lambda row: row.is_default),
            ("zone", self.zones, lambda row: not row.pick_up),
            ("state", self.fees, lambda row: row.active),
        ):
            places = [
                str(place)
                for place, form in enumerate(table.forms)
                if form.instance.pk and fits(form.instance)
            ]
            if places:
                found[name] = places[0]
        return found
