"""What the page of new costs shows: the sum of it, and one list at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.core.paginator import Page, Paginator
from django.db.models import Count, Q, QuerySet, Sum
from django.utils.translation import gettext_lazy as _

from blendshop.money import ZERO
from blendshop.pages import page_of
from formulas.models import BlendRevision
from orders.cost_change.blend_rows import BlendRow, blend_rows, steepest
from orders.cost_change.impact_state import impact_state, impact_under_way, shown_impact
from orders.cost_change.stocks_bought import bought_stocks
from orders.frozen.better_recipes import BetterRecipe
from orders.models import CostChange, CostImpact, Order, OrderImpact, Quote, QuoteImpact

PER_PAGE: Final = 50
#: Blends of the summary, and of the list of recipes.
STEEPEST: Final = 3
TABS: Final = {
    "quotes": _("Open quotes"),
    "orders": _("Open orders"),
    "blends": _("Blends"),
    "stocks": _("On hand"),
    "recipes": _("Cheaper recipes"),
    "costs": _("New costs"),
}


@dataclass(frozen=True, slots=True)
class Held:
    """How many open quotes or orders there are, how many of them below the floor, margin lost."""

    count: int
    below_floor: int
    unpriced: int
    lost: Decimal


@dataclass(frozen=True, slots=True)
class NamedBlend:
    """A blend of the list with its newest revision."""

    row: BlendRow
    revision: BlendRevision


@dataclass(frozen=True, slots=True)
class NamedRecipe:
    """A cheaper recipe with the blend it is for; ``saved`` is dollars over what is open of it."""

    recipe: BetterRecipe
    revision: BlendRevision

    @property
    def saved_per_gal(self) -> Decimal:
        return self.recipe.saved_cost_per_gal - self.recipe.best_cost_per_gal


@dataclass(frozen=True, slots=True)
class QuoteRow:
    """A quote of the list; ``days_left`` until its last day, None for one that is not out."""

    held: QuoteImpact
    days_left: int | None


def cost_change_page(
    change: CostChange, today: date, *, show: str, asked: str | None, below: bool
) -> dict[str, Any]:
    """The context of the page; ``show`` names the list, ``below`` keeps quotes below the floor."""
    impact = shown_impact(change)
    show = show if show in TABS else "quotes"
    context: dict[str, Any] = {
        "change": change,
        "costs": list(change.costs.select_related("stock")),
        "impact": impact,
        "under_way": impact_under_way(change),
        "is_in_force": change.is_in_force(today),
        "show": show,
        "below": below,
        "tabs": TABS.items(),
        "today": today,
    }
    if impact is None:
        return context
    packed = _packed(impact)
    context |= {
        "is_current": impact.state == impact_state(today),
        "quotes": held_in_all(open_quotes(impact, today)),
        "orders": held_in_all(open_orders(impact)),
        "steepest": named_blends(steepest(packed, STEEPEST)),
        "recipes": _named_recipes(impact),
    }
    if show == "quotes":
        context["page"] = _quotes_page(impact, today, asked, below=below)
    elif show == "orders":
        context["page"] = page_of(
            open_orders(impact).order_by("-lost", "order"),
            asked,
            per_page=PER_PAGE,
            read=lambda rows: rows.select_related("order__company"),
        )
    elif show == "blends":
        page: Page[Any] = Paginator(range(impact.blend_count), PER_PAGE).get_page(asked)
        first = max(0, page.start_index() - 1)
        page.object_list = named_blends(blend_rows(packed, first, page.end_index()))
        context["page"] = page
    elif show == "stocks":
        context["stocks"] = bought_stocks(change, today)
    return context


def open_quotes(impact: CostImpact, today: date) -> QuerySet[QuoteImpact]:
    """The quotes of an impact that are still open; those that are out, while they are valid."""
    return QuoteImpact.objects.filter(impact=impact, quote__in=Quote.objects.open_on(today))


def open_orders(impact: CostImpact) -> QuerySet[OrderImpact]:
    """The orders of an impact that are still open."""
    return OrderImpact.objects.filter(impact=impact, order__in=Order.objects.open())


def held_in_all(rows: QuerySet[QuoteImpact] | QuerySet[OrderImpact]) -> Held:
    """The sum of a list."""
    found = rows.order_by().aggregate(
        count=Count("pk"),
        below_floor=Count("pk", filter=Q(is_below_floor=True)),
        unpriced=Count("pk", filter=~Q(problem="")),
        lost=Sum("lost"),
    )
    return Held(**{**found, "lost": found["lost"] or ZERO})


def named_blends(rows: Sequence[BlendRow]) -> list[NamedBlend]:
    """The rows with their revisions, in their order; one query."""
    revisions = BlendRevision.objects.select_related("blend__company").defer("wish", "answer")
    of = revisions.in_bulk([row.revision_id for row in rows])
    return [NamedBlend(row, of[row.revision_id]) for row in rows if row.revision_id in of]


def all_blend_rows(impact: CostImpact) -> list[BlendRow]:
    """Every blend whose cost changes, by money at stake."""
    return blend_rows(_packed(impact))


def days_left(quote: Quote, today: date) -> int | None:
    """Until its last day; None of what is not out."""
    return (quote.valid_until - today).days if quote.status == Quote.Status.SENT else None


def _quotes_page(impact: CostImpact, today: date, asked: str | None, *, below: bool) -> Page[Any]:
    rows = open_quotes(impact, today)
    if below:
        rows = rows.filter(is_below_floor=True)
    page = page_of(
        rows.order_by("-lost", "quote"),
        asked,
        per_page=PER_PAGE,
        read=lambda found: found.select_related("quote__company"),
    )
    page.object_list = [QuoteRow(held, days_left(held.quote, today)) for held in page.object_list]
    return page


def _named_recipes(impact: CostImpact) -> list[NamedRecipe]:
    found = impact.better_recipes.better
    revisions = BlendRevision.objects.select_related("blend__company").defer("wish", "answer")
    of = revisions.in_bulk([each.revision_id for each in found])
    return [NamedRecipe(each, of[each.revision_id]) for each in found if each.revision_id in of]


def _packed(impact: CostImpact) -> bytes:
    return bytes(CostImpact.objects.values_list("blends", flat=True).get(pk=impact.pk))
