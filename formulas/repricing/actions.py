"""Writing what recipes cost today: of a range of blocks at once, in one statement."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from django.db import connection, transaction

from formulas.catalogue_version.keeping import version
from formulas.engine_bridge import load_catalogue
from formulas.models import CostState, RecipeBlock, Repricing, RevisionCost
from formulas.repricing.blocks import (
    Recipes,
    read_recipes,
    revisions_by_block,
    standing_blocks,
)
from formulas.repricing.figures import RecipeCosts, recipe_costs

#: Keys, costs per lb and gal in ten-thousandths of a dollar or None, codes.
_Columns = tuple[list[int], list[Any], list[Any], list[str]]
_TABLE: Final = RevisionCost._meta.db_table
_COLUMNS: Final = "(revision_id, state_id, cost_per_lb, cost_per_gal, unavailable)"
_INSTEAD: Final = (
    " ON CONFLICT (revision_id) DO UPDATE SET state_id = excluded.state_id,"
    " cost_per_lb = excluded.cost_per_lb, cost_per_gal = excluded.cost_per_gal,"
    " unavailable = excluded.unavailable"
)


def costs_of_now(today: date) -> CostState:
    """The state to price at: read before the costs are, so that it is never newer than they."""
    return CostState.objects.get_or_create(catalogue=version() or "", day=today)[0]


def reprice_blocks(first: int, last: int, state: CostState) -> int:
    """Price the recipes of a range of blocks at the costs of now; how many there are.

    The same however often it is done; two at once write the same.
    """
    recipes = Recipes.together(packed_recipes(first, last))
    write_costs(recipe_costs(recipes, load_catalogue(state.day)), state)
    return len(recipes.revision_ids)


def note_repricing(
    state: CostState, *, blends: int, quotes: int, quotes_below_floor: int
) -> Repricing:
    """Write down that everything was priced at these costs, or newer ones."""
    return Repricing.objects.create(
        state=state,
        blends=blends,
        quotes=quotes,
        quotes_below_floor=quotes_below_floor,
    )


def write_costs(costs: RecipeCosts, state: CostState) -> None:
    """One statement for all of them, on both databases."""
    if not len(costs.revision_ids):
        return
    per_lb, per_gal = costs.per_lb.tolist(), costs.per_gal.tolist()
    for place in (~costs.is_priced).nonzero()[0].tolist():
        per_lb[place] = per_gal[place] = None
    words = [""] * len(per_lb)
    for place, codes in costs.unavailable.items():
        words[place] = codes
    columns = (costs.revision_ids.tolist(), per_lb, per_gal, words)
    write = _write_on_postgres if connection.vendor == "postgresql" else _write_on_sqlite
    write(state.pk, columns)


def _write_on_postgres(state_id: int, columns: _Columns) -> None:
    # By key, so that of two parts that write the same rows one waits and none is given up.
    statement = (
        f"INSERT INTO {_TABLE} {_COLUMNS}"  # noqa: S608 - our own names
        " SELECT pk, %s, lb / 10000.0, gal / 10000.0, words FROM"
        " unnest(%s::bigint[], %s::bigint[], %s::bigint[], %s::text[])"
        f" AS priced (pk, lb, gal, words) ORDER BY pk{_INSTEAD}"
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, [state_id, *columns])


def _write_on_sqlite(state_id: int, columns: _Columns) -> None:
    statement = (
        f"INSERT INTO {_TABLE} {_COLUMNS}"  # noqa: S608 - our own names
        f" VALUES (%s, {state_id:d}, %s / 10000.0, %s / 10000.0, %s){_INSTEAD}"
    )
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(statement, list(zip(*columns, strict=True)))


def packed_recipes(first: int, last: int) -> list[Recipes]:
    """The blocks of a range in their order; those that lack revisions are packed anew."""
    counted = revisions_by_block(first, last)
    found = {
        number: Recipes.unpacked(packed)
        for number, revisions, packed in standing_blocks(first, last)
        if revisions == counted.get(number)
    }
    for number in counted.keys() - found.keys():
        found[number] = read_recipes(number)
        RecipeBlock.objects.update_or_create(
            number=number,
            defaults={
                "revisions": len(found[number].revision_ids),
                "packed": found[number].packed(),
            },
        )
    return [found[number] for number in sorted(found)]
