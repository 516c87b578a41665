"""Repricing everything: asked for once, done part by part, noted in one line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final

from django.db import transaction
from django.utils import timezone

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.long_work.actions.beginning import begin
from blendshop.long_work.kinds import kind_of
from blendshop.long_work.models import LongWork
from formulas.catalogue_version.keeping import version
from formulas.engine_bridge import load_catalogue
from formulas.models import Blend, CostState, Repricing
from formulas.repricing.actions import costs_of_now, note_repricing, reprice_blocks
from formulas.repricing.blocks import last_block
from formulas.repricing.standing import KIND, is_repriced
from orders.models import Quote, QuoteMargin
from orders.repricing.held_records import held_quotes
from orders.repricing.notices import tell_below_floor

#: Blocks of recipes and open quotes of one part: some seconds of a worker at most.
BLOCKS_A_PART: Final = 10
QUOTES_A_PART: Final = 500
#: Rows of margins in one statement.
_ROWS: Final = 250


def ask_for_repricing(*, asked_by: User | None) -> LongWork | None:
    """Have everything priced anew by the workers, in the caller's transaction.

    None where one waits already: it reads the costs when its turn comes. Asked again at the same
    costs of the same day it is the one of before.
    """
    if LongWork.objects.filter(kind=KIND, state=LongWork.State.WAITING).exists():
        return None
    today = timezone.localdate()
    parts = list(parts_of(today))
    return begin(
        kind_of(KIND),
        asked_by=asked_by,
        arguments={"parts": parts},
        parts=len(parts),
        same_as=f"{today} {version()}",
    )


def after_new_costs(sender: object, *, asked_by: User | None, **_signal: object) -> None:
    """Receiver of ``costs_changed``."""
    ask_for_repricing(asked_by=asked_by)


def reprice_if_changed() -> bool:
    """Ask for it where costs are others than at the last time; whether that was so."""
    if is_repriced(timezone.localdate()):
        return False
    return ask_for_repricing(asked_by=None) is not None


def reprice_here() -> Repricing:
    """All of it at once, in this process."""
    today = timezone.localdate()
    return finish(today, [do_part(part, today) for part in parts_of(today)])


def parts_of(today: date) -> Iterator[dict[str, list[int]]]:
    """What there is to do, in parts of about equal work; at least one."""
    for first in range(0, last_block() + 1, BLOCKS_A_PART):
        yield {"blocks": [first, first + BLOCKS_A_PART - 1]}
    standing = Quote.objects.with_standing_price(today).order_by("pk")
    keys = list(standing.values_list("pk", flat=True))
    for place in range(0, len(keys) or 1, QUOTES_A_PART):
        part = keys[place : place + QUOTES_A_PART]
        yield {"quotes": [part[0], part[-1]] if part else [0, 0]}


def do_part(part: Mapping[str, Sequence[int]], today: date) -> dict[str, int]:
    """One part, the same however often it is done; how many recipes or quotes, at which costs."""
    state = costs_of_now(today)
    if "blocks" in part:
        first, last = part["blocks"]
        return {"state": state.pk, "recipes": reprice_blocks(first, last, state)}
    first, last = part["quotes"]
    return {"state": state.pk, "quotes": reprice_quotes(first, last, state)}


def reprice_quotes(first: int, last: int, state: CostState) -> int:
    """Hold the open quotes of a range of keys against the costs of now; how many there are."""
    today = state.day
    catalogue = load_catalogue(today, include_short=True)
    standing = Quote.objects.with_standing_price(today).filter(pk__range=(first, last))
    rows = []
    for pk, held in held_quotes(standing, catalogue, today):
        row = QuoteMargin(quote_id=pk, state=state)
        if isinstance(held, BadInput):
            row.problem = held.message[:400]
        else:
            row.margin_then, row.margin_now = held.margin_then, held.margin_now
            row.margin_pct_then, row.margin_pct_now = held.margin_pct_then, held.margin_pct_now
            row.floor_pct, row.is_below_floor = held.floor_pct, held.is_below_floor
            row.lines = held.then_and_now.to_json()
        rows.append(row)
    QuoteMargin.objects.bulk_create(
        rows,
        batch_size=_ROWS,
        update_conflicts=True,
        unique_fields=["quote"],
        update_fields=[
            field.name for field in QuoteMargin._meta.concrete_fields if not field.primary_key
        ],
    )
    return len(rows)


def finish(today: date, done: Sequence[Any]) -> Repricing:
    """Note the result once all parts are done; at the oldest costs of any of them."""
    standing = Quote.objects.with_standing_price(today)
    with transaction.atomic():
        tell_below_floor(standing)
        return note_repricing(
            CostState.objects.get(pk=min(part["state"] for part in done)),
            blends=Blend.objects.filter(archived=False).count(),
            quotes=sum(part.get("quotes", 0) for part in done),
            quotes_below_floor=standing.filter(margin_today__is_below_floor=True).count(),
        )
