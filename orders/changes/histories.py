"""Lines of every model that keeps its history; a model that begins to is in the log by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any, Final

from django.db.models import ForeignKey, Q
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.accounts.search import named
from blendshop.roles import Role, has_role
from formulas.engine.composition import NAMES
from formulas.engine.label.metals import METALS
from formulas.models import BaseStock, Trait
from formulas.models.base_stock import stocks_named
from orders.changes.field_words import label_of, written
from orders.changes.lines import FieldChange, Kind, Line
from orders.changes.records import (
    changed_fields,
    history_model,
    is_own,
    previous,
    tracked_fields,
    tracked_models,
)
from orders.changes.safe_since import SETTERS, not_here, traits_of, why_not
from orders.changes.source import Source

#: Written by the migration that began to keep some histories; nobody did it.
AS_IT_STOOD: Final = "as it stood when changes began to be kept"
_KINDS: Final[Mapping[str, Kind]] = {
    "PriceTier": Kind.PRICES,
    "QuantityBreak": Kind.PRICES,
    "Package": Kind.PRICES,
    "StateFee": Kind.PRICES,
    "FreightZone": Kind.FREIGHT,
    "Truck": Kind.FREIGHT,
    "Company": Kind.CUSTOMERS,
    "CustomerTerms": Kind.CUSTOMERS,
    "OrderLimits": Kind.CUSTOMERS,
    "ShipTo": Kind.CUSTOMERS,
    "BaseStock": Kind.STOCKS,
    "AnalysisFigure": Kind.STOCKS,
    "MetalFigure": Kind.STOCKS,
    "StockSpread": Kind.STOCKS,
    "SupplierTerms": Kind.STOCKS,
    "CompatibilityRule": Kind.RULES,
    "Blend": Kind.BLENDS,
}
#: What is new is told by so many of its fields.
_MOST_OF_NEW: Final = 6
#: A record is looked for among so many.
_MOST_RECORDS: Final = 200
#: What a record is called by, the first that it has.
_NAMES: Final = ("name", "label", "state", "day", "code")
Referred = Mapping[str, Mapping[Any, Any]]


def history_sources() -> list[Source]:
    return [_source(model) for model in tracked_models()]


def _source(model: type[Any]) -> Source:
    kept = history_model(model)
    return Source(
        key=model.__name__,
        kind=_KINDS.get(model.__name__, Kind.PLANT),
        rows=lambda: kept.objects.exclude(history_change_reason=AS_IT_STOOD),
        when="history_date",
        person="history_user",
        of_record=partial(_of_record, model),
        read=partial(_lines, model),
    )


def _of_record(model: type[Any], text: str) -> Q:
    """Histories of the records called so today, or that belong to such a stock or customer."""
    columns = {field.name for field in model._meta.concrete_fields}
    if "stock" in columns:
        return Q(stock__in=stocks_named(BaseStock.objects.all(), text).values("pk"))
    if "company" in columns and "name" not in columns:
        return Q(company__in=named(Company.objects.all(), text).values("pk"))
    if model is BaseStock:
        live = stocks_named(BaseStock.objects.all(), text)
    elif "name" in columns:
        live = model._default_manager.filter(name__icontains=text)
    elif "state" in columns:
        live = model._default_manager.filter(state__iexact=text)
    else:
        return Q(pk__in=())
    return Q(id__in=list(live.values_list("pk", flat=True)[:_MOST_RECORDS]))


def _lines(model: type[Any], pks: Sequence[int], user: User) -> Iterator[Line]:
    rows, before = previous(model, pks)
    referred = _referred(model, [*rows, *filter(None, before.values())])
    traits = _traits([*rows, *filter(None, before.values())]) if model is BaseStock else {}
    setter = SETTERS.get(model.__name__)
    may = setter is not None and has_role(user, setter)
    refused = why_not(model, rows, before) if may else {}
    for row in rows:
        old = before[row.pk]
        fields = _changes(model, row, old, referred)
        if traits and old is not None and traits[row.pk] != traits[old.pk]:
            fields = (*fields, FieldChange(_("Traits"), traits[old.pk], traits[row.pk]))
        yield Line(
            source=model.__name__,
            pk=row.pk,
            at=row.history_date,
            who=str(row.history_user or ""),
            kind=_KINDS.get(model.__name__, Kind.PLANT),
            record=record_name(model, row, referred),
            verb=_verb(row, fields),
            fields=fields,
            why=row.history_change_reason or "",
            url=_url(model, row, referred, user),
            can_be_taken_back=may and row.pk not in refused,
            why_not=refused.get(row.pk, "") if may else not_here(setter),
        )


def _verb(row: Any, fields: tuple[FieldChange, ...]) -> str:
    if row.history_type == "+":
        return _("added")
    if row.history_type == "-":
        return _("removed")
    return _("changed") if fields else _("saved, nothing changed")


def _changes(model: type[Any], row: Any, old: Any, referred: Referred) -> tuple[FieldChange, ...]:
    def words(kept: Any, field: Any) -> str:
        rows = referred.get(field.name, {})
        return written(model, field, getattr(kept, field.attname), rows)

    if row.history_type == "-":
        return ()
    if row.history_type == "+" or old is None:
        told = [field for field in tracked_fields(model) if _is_telling(row, field)]
        unknown = "" if row.history_type == "+" else _("not known")
        return tuple(
            FieldChange(label_of(model, field), unknown, words(row, field))
            for field in told[:_MOST_OF_NEW]
        )
    return tuple(
        FieldChange(label_of(model, field), words(old, field), words(row, field))
        for field in changed_fields(model, row, old)
    )


def _is_telling(row: Any, field: Any) -> bool:
    """Whether it says something of a new row; whose it is stands in the record's name."""
    if field.name in ("stock", "company", "trait_a", "trait_b"):
        return False
    return getattr(row, field.attname) not in (None, "", field.get_default())


def _referred(model: type[Any], rows: Sequence[Any]) -> Referred:
    """What the foreign keys of the rows point to, one question a key."""
    found = {}
    for field in model._meta.concrete_fields:
        if isinstance(field, ForeignKey) and not is_own(field):
            keys = {getattr(row, field.attname) for row in rows} - {None}
            to: Any = field.remote_field.model
            found[field.name] = to._base_manager.in_bulk(keys) if keys else {}
    return found


def _traits(rows: Sequence[Any]) -> dict[int, str]:
    """The traits of kept stocks in words, by the kept row's key."""
    names = dict(Trait.objects.values_list("pk", "name"))
    return {
        key: ", ".join(sorted(names.get(trait, "") for trait in some)) or _("nothing")
        for key, some in traits_of(rows).items()
    }


def record_name(model: type[Any], row: Any, referred: Referred) -> str:
    """What a kept row is of, in words."""
    special: Mapping[str, Callable[[], str]] = {
        "BaseStock": lambda: f"{row.code} {row.name}",
        "AnalysisFigure": lambda: f"{_of('stock')}: {NAMES.get(row.key, row.key)}",
        "MetalFigure": lambda: f"{_of('stock')}: {METALS.get(row.metal, row.metal)}",
        "StockSpread": lambda: str(_of("stock")),
        "SupplierTerms": lambda: f"{_of('stock')}: {row.supplier}",
        "CustomerTerms": lambda: _("Terms of {customer}").format(customer=_of("company")),
        "OrderLimits": lambda: _("Order limits of {customer}").format(customer=_of("company")),
        "ShipTo": lambda: f"{_of('company')}: {row.label}",
        "QuantityBreak": lambda: _("Quantity break beyond {gallons} gal").format(
            gallons=row.above_gal
        ),
        "CompatibilityRule": lambda: _("{one} with {other}").format(
            one=_of("trait_a"), other=_of("trait_b")
        ),
    }

    def _of(name: str) -> Any:
        return referred.get(name, {}).get(getattr(row, f"{name}_id"), _("something removed since"))

    if model.__name__ in special:
        return special[model.__name__]()
    kind = capfirst(str(model._meta.verbose_name))
    name = next((getattr(row, name) for name in _NAMES if getattr(row, name, "")), "")
    return f"{kind} {name}".strip()


def _url(model: type[Any], row: Any, referred: Referred, user: User) -> str:
    """Where the record can be looked at, if the user may."""
    if _KINDS.get(model.__name__) == Kind.CUSTOMERS:
        if not has_role(user, Role.REP, Role.OFFICE):
            return ""
        return reverse("customer_detail", args=[getattr(row, "company_id", None) or row.id])
    if model is BaseStock:
        return reverse("stock_detail", args=[row.code])
    if stock := referred.get("stock", {}).get(getattr(row, "stock_id", None)):
        return reverse("stock_detail", args=[stock.code])
    if model.__name__ == "CompatibilityRule":
        return reverse("rule_list")
    return ""
