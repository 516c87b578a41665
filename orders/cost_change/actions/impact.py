"""Working out what new costs do: part by part in the workers, then put together once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final, TypeVar

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.kinds import kind_of
from formulas.engine_bridge import load_catalogue
from formulas.repricing.actions import packed_recipes
from formulas.repricing.blocks import Recipes, last_block
from orders.cost_change.blend_rows import blend_rows, changed_recipes, packed_blends
from orders.cost_change.impact_state import impact_state
from orders.cost_change.notices import tell_impact
from orders.cost_change.proposed import proposed_catalogue
from orders.cost_change.recipes import MOST_SOLVED, better_recipes
from orders.models import CostChange, CostImpact, Order, OrderImpact, Quote, QuoteImpact
from orders.models.cost_change import HeldAtNewCosts
from orders.repricing.actions import BLOCKS_A_PART, QUOTES_A_PART
from orders.repricing.held_price import HeldQuote
from orders.repricing.held_records import held_orders, held_quotes

#: The kind of long work that does it.
KIND: Final = "cost-impact"
#: Rows in one statement.
_ROWS: Final = 250
_COLUMNS: Final = tuple(field.name for field in HeldAtNewCosts._meta.get_fields())
HeldT = TypeVar("HeldT", QuoteImpact, OrderImpact)


def work_out_impact(*, change: CostChange, acting_user: User) -> CostImpact:
    """Have it worked out by the workers, or join whoever asked the same since nothing changed."""
    today = timezone.localdate()
    if change.is_in_force(today):
        raise IllegalMove(_("These costs are in force: see the open quotes by margin."))
    state = impact_state(today)
    with transaction.atomic():
        same = CostImpact.objects.filter(change=change, version=change.version, state=state)
        for impact in same.select_related("work").defer("blends"):
            if impact.worked_out_at or (impact.work is not None and impact.work.is_open):
                return impact
        impact = CostImpact.objects.create(change=change, version=change.version, state=state)
        parts = list(parts_of(today))
        impact.work = begin(
            kind_of(KIND),
            asked_by=acting_user,
            arguments={"impact": impact.pk, "change": change.pk, "parts": parts},
            parts=len(parts),
        )
        impact.save(update_fields=["work"])
    return impact


def parts_of(today: date) -> Iterator[dict[str, list[int]]]:
    """What there is to do, in parts of about equal work."""
    for first in range(0, last_block() + 1, BLOCKS_A_PART):
        yield {"blocks": [first, first + BLOCKS_A_PART - 1]}
    of_kinds = {
        "quotes": Quote.objects.open_on(today),
        "orders": Order.objects.open(),
    }
    for name, rows in of_kinds.items():
        keys = list(rows.order_by("pk").values_list("pk", flat=True))
        for place in range(0, len(keys), QUOTES_A_PART):
            part = keys[place : place + QUOTES_A_PART]
            yield {name: [part[0], part[-1]]}
    if last_block() < 0:
        yield {"blocks": [0, 0]}


def do_part(part: Mapping[str, Sequence[int]], impact: CostImpact, today: date) -> dict[str, Any]:
    """One part, the same however often it is done."""
    change = impact.change
    if "blocks" in part:
        first, last = part["blocks"]
        recipes = Recipes.together(packed_recipes(first, last))
        before, after = load_catalogue(today), proposed_catalogue(change, today)
        return {"blends": changed_recipes(recipes, before, after)}
    [(name, (first, last))] = part.items()
    catalogue = proposed_catalogue(change, today, include_short=True)
    if name == "quotes":
        quotes = Quote.objects.open_on(today).filter(pk__range=(first, last))
        held = held_quotes(quotes, catalogue, today)
        _write([_held(QuoteImpact(impact=impact, quote_id=pk), each) for pk, each in held], "quote")
    else:
        orders = Order.objects.open().filter(pk__range=(first, last))
        of_orders = held_orders(orders, catalogue, today)
        rows = [_held(OrderImpact(impact=impact, order_id=pk), each) for pk, each in of_orders]
        _write(rows, "order")
    return {}


def finish(impact: CostImpact, answers: Sequence[Mapping[str, Any]], today: date) -> CostImpact:
    """Put the parts together, solve the dearest blends anew, forget what was worked out before."""
    packed, count = packed_blends([each["blends"] for each in answers if "blends" in each], today)
    catalogue = proposed_catalogue(impact.change, today)
    recipes = better_recipes(blend_rows(packed, 0, MOST_SOLVED), catalogue)
    with transaction.atomic():
        impact.blends, impact.blend_count = packed, count
        impact.recipes = recipes.to_json()
        impact.worked_out_at = timezone.now()
        impact.save(update_fields=["blends", "blend_count", "recipes", "worked_out_at"])
        impact.change.impacts.filter(pk__lt=impact.pk).delete()
        tell_impact(impact)
    return impact


def _held(row: HeldT, held: HeldQuote | BadInput) -> HeldT:
    if isinstance(held, BadInput):
        row.problem = held.message[:400]
        return row
    row.margin_then, row.margin_now = held.margin_then, held.margin_now
    row.margin_pct_then, row.margin_pct_now = held.margin_pct_then, held.margin_pct_now
    row.floor_pct, row.is_below_floor = held.floor_pct, held.is_below_floor
    row.lost = held.margin_then - held.margin_now
    return row


def _write(rows: Sequence[HeldT], record: str) -> None:
    if rows:
        type(rows[0])._default_manager.bulk_create(
            rows,
            batch_size=_ROWS,
            update_conflicts=True,
            unique_fields=["impact", record],
            update_fields=_COLUMNS,
        )
