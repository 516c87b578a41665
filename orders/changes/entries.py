"""Lines of what is entered anew and never edited: costs of stocks, the price policy."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.figures.readers import reader
from blendshop.roles import Role, has_role
from formulas.models import BaseStock, StockCost
from formulas.models.base_stock import stocks_named
from orders.changes.field_words import label_of, money, written
from orders.changes.lines import FieldChange, Kind, Line
from orders.changes.records import history_model
from orders.changes.safe_since import not_here
from orders.changes.source import Source
from orders.models import PricePolicy

#: The figures of a policy; day and note belong to each row.
POLICY_FIGURES: Final = ("shrink_pct", "batch_fee", "blend_fee_per_gal", "lab_fee_per_batch")
#: Who may enter a cost, and so take one back.
COST_SETTERS: Final = (Role.FORMULATOR, Role.OFFICE)


def entry_sources() -> list[Source]:
    """Costs and policies."""
    return [
        Source(
            key="StockCost",
            kind=Kind.COSTS,
            rows=StockCost.objects.all,
            when="entered_at",
            person="entered_by",
            of_record=lambda text: Q(stock__in=stocks_named(BaseStock.objects.all(), text)),
            read=_costs,
        ),
        Source(
            key="PricePolicy",
            kind=Kind.PRICES,
            rows=_policies_with_who,
            when="entered_at",
            person="entered_by",
            of_record=lambda text: Q(pk__isnull="policy" not in text.casefold()),
            read=_policies,
        ),
    ]


def cost_before(cost: StockCost) -> StockCost | None:
    """What was in force on the day the cost is from, when it was entered."""
    found: StockCost | None = _before(StockCost.objects.filter(stock=cost.stock_id), cost)
    return found


def policy_before(policy: PricePolicy) -> PricePolicy | None:
    """The same of a policy."""
    found: PricePolicy | None = _before(PricePolicy.objects.all(), policy)
    return found


def _before(rows: QuerySet[Any], entry: Any) -> Any:
    earlier = rows.filter(pk__lt=entry.pk, effective_from__lte=entry.effective_from)
    return earlier.order_by("-effective_from", "-pk").first()


def cost_stays(*, has_newer: bool, before: StockCost | None) -> str:
    """Why a cost cannot be taken back; empty where it can."""
    if has_newer:
        return _("A newer cost of this stock was entered since.")
    return "" if before else _("It was the stock's first cost; there is none to go back to.")


def policy_stays(*, has_newer: bool, before: PricePolicy | None) -> str:
    """The same of a policy."""
    if has_newer:
        return _("A newer price policy was entered since.")
    return "" if before else _("It was the first price policy; there is none to go back to.")


def cost_words(cost: StockCost) -> str:
    """``$412.00 per ton``."""
    return f"{money(cost.amount)} {cost.get_unit_display()}"


def _costs(pks: Sequence[int], user: User) -> Iterator[Line]:
    earlier = StockCost.objects.filter(
        stock=OuterRef("stock"),
        effective_from__lte=OuterRef("effective_from"),
        pk__lt=OuterRef("pk"),
    )
    before = earlier.order_by("-effective_from", "-pk").values("pk")[:1]
    newer = StockCost.objects.filter(stock=OuterRef("stock"), pk__gt=OuterRef("pk"))
    rows = list(
        StockCost.objects.filter(pk__in=pks)
        .select_related("stock", "entered_by")
        .annotate(before=Subquery(before), has_newer=Exists(newer))
    )
    found = StockCost.objects.in_bulk([row.before for row in rows if row.before])
    may = has_role(user, *COST_SETTERS)
    for row in rows:
        old = found.get(row.before)
        why_not = (
            cost_stays(has_newer=row.has_newer, before=old) if may else not_here(COST_SETTERS[0])
        )
        yield Line(
            source="StockCost",
            pk=row.pk,
            at=row.entered_at,
            who=str(row.entered_by or ""),
            kind=Kind.COSTS,
            record=f"{row.stock.code} {row.stock.name}",
            verb=_("from {day}").format(day=reader().date(row.effective_from)),
            fields=(FieldChange(_("Cost"), cost_words(old) if old else "", cost_words(row)),),
            why=row.note,
            url=reverse("stock_detail", args=[row.stock.code]),
            can_be_taken_back=not why_not,
            why_not=why_not,
        )


def _policies_with_who() -> QuerySet[Any]:
    made = history_model(PricePolicy).objects.filter(id=OuterRef("pk"), history_type="+")
    return PricePolicy.objects.annotate(entered_by=Subquery(made.values("history_user")[:1]))


def _policies(pks: Sequence[int], user: User) -> Iterator[Line]:
    rows = list(_policies_with_who().filter(pk__in=pks))
    people = User.objects.in_bulk([row.entered_by for row in rows if row.entered_by])
    every = list(PricePolicy.objects.all()) if rows else []  # a handful in many years
    may = has_role(user, Role.OFFICE)
    for row in rows:
        old = next(
            (
                each
                for each in every  # newest day first
                if each.pk < row.pk and each.effective_from <= row.effective_from
            ),
            None,
        )
        has_newer = any(each.pk > row.pk for each in every)
        why_not = policy_stays(has_newer=has_newer, before=old) if may else not_here(Role.OFFICE)
        yield Line(
            source="PricePolicy",
            pk=row.pk,
            at=row.entered_at,
            who=str(people.get(row.entered_by, "")),
            kind=Kind.PRICES,
            record=_("Price policy"),
            verb=_("from {day}").format(day=reader().date(row.effective_from)),
            fields=policy_changes(old, row),
            why=row.note,
            can_be_taken_back=not why_not,
            why_not=why_not,
        )


def policy_changes(old: PricePolicy | None, new: PricePolicy) -> tuple[FieldChange, ...]:
    """The figures that differ, all of them where there was no policy before."""
    found = []
    for name in POLICY_FIGURES:
        field: Any = PricePolicy._meta.get_field(name)
        words = written(PricePolicy, field, getattr(new, name), {})
        before = written(PricePolicy, field, getattr(old, name), {}) if old else ""
        if words != before:
            found.append(FieldChange(label_of(PricePolicy, field), before, words))
    return tuple(found)
