"""What of open orders no tank load covers yet, by the recipe it will be made by."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet, Sum, prefetch_related_objects

from blendshop.errors import BadInput
from formulas.models import BlendRevision
from orders.models import BatchPart, Order, OrderLine, Package, Tank
from orders.planning.loads import LoadPart, load_gal, split_into_loads
from orders.planning.planned_recipes import making_revisions
from orders.planning.same_recipe import made_as


@dataclass(frozen=True, slots=True)
class TankChoice:
    """How many loads of a tank it would take; ``refusal`` says why the tank does not suit."""

    tank: Tank
    loads: int
    refusal: str = ""


@dataclass(frozen=True, slots=True)
class RecipeToPlan:
    """Everything still to be planned of one recipe, the earliest due first.

    ``revision`` is the first line's; the others are the same to make, see ``same_recipe``.
    """

    revision: BlendRevision
    parts: tuple[LoadPart, ...]


@dataclass(frozen=True, slots=True)
class BlendToPlan:
    """What is planned of a recipe at once: its ``parts``, of which ``later`` ones are left out."""

    revision: BlendRevision
    parts: tuple[LoadPart, ...]
    tanks: tuple[TankChoice, ...]
    later: int = 0

    @property
    def gal(self) -> Decimal:
        return load_gal(self.parts)

    @property
    def product_names(self) -> tuple[str, ...]:
        """What the lines' customers call it, each name once, the first line's first."""
        return tuple(dict.fromkeys(part.line.revision.blend.name for part in self.parts))

    @property
    def best_tank(self) -> Tank | None:
        """The smallest tank of those with the fewest loads; None when no tank suits."""
        suiting = [choice for choice in self.tanks if not choice.refusal]
        best = min(suiting, key=lambda c: (c.loads, c.tank.capacity_gal), default=None)
        return None if best is None else best.tank

    @property
    def due_on(self) -> date:
        return self.parts[0].line.order.due_on


def with_what_a_plan_needs(lines: Iterable[OrderLine]) -> list[OrderLine]:
    """The lines with recipe, package, customer and ship-to, the earliest due first."""
    return list(
        OrderLine.objects.filter(pk__in=[line.pk for line in lines])
        .select_related("revision__blend", "package", "order__company", "order__ship_to")
        .order_by("order__due_on", "order__pk", "position")
    )


def unplanned_parts(lines: Sequence[OrderLine]) -> list[LoadPart]:
    """What live batches do not cover of each line; covered lines are left out."""
    covered = dict(
        BatchPart.objects.live()
        .filter(order_line__in=lines)
        .order_by()
        .values_list("order_line")
        .annotate(sum=Sum("quantity"))
    )
    left = [LoadPart(line, line.quantity - covered.get(line.pk, 0)) for line in lines]
    return [part for part in left if part.quantity > 0]


def blends_to_plan() -> list[BlendToPlan]:
    """Every recipe with something to plan, the most urgent first; a few queries."""
    return offered_to_plan(recipes_to_plan())


def offered_to_plan(
    recipes: Iterable[RecipeToPlan], *, most_lines: int | None = None
) -> list[BlendToPlan]:
    """The recipes with the tanks that suit; of each no more lines at once than ``most_lines``."""
    tanks = list(Tank.objects.filter(active=True).order_by("name"))
    shown = [(recipe, recipe.parts[:most_lines]) for recipe in recipes]
    orders = [part.line.order for _, parts in shown for part in parts]
    prefetch_related_objects(orders, "company")
    return [
        BlendToPlan(
            recipe.revision, parts, _choices(parts, tanks), later=len(recipe.parts) - len(parts)
        )
        for recipe, parts in shown
    ]


def recipes_to_plan() -> list[RecipeToPlan]:
    """Every recipe with something to plan, the most urgent first.

    Without prices and answers, of which a page of very many lines shows nothing.
    """
    here = (Order.Status.OPEN, Order.Status.PLANNED)
    lines = list(
        OrderLine.objects.filter(order__status__in=here)
        .select_related("order")
        .only("quantity", "revision", "package", "order__number", "order__due_on", "order__company")
        .order_by("order__due_on", "order__pk", "position")
    )
    parts_left = unplanned_parts(lines)
    lines = [part.line for part in parts_left]
    _put_in(lines, "package", Package.objects.all())
    _put_in(lines, "revision", BlendRevision.objects.select_related("blend").defer("answer"))
    revisions = making_revisions(lines)
    first = made_as(revisions[part.line.pk] for part in parts_left)
    by_recipe: dict[int, list[LoadPart]] = {}
    for part in parts_left:
        by_recipe.setdefault(first[revisions[part.line.pk].pk], []).append(part)
    return [RecipeToPlan(revisions[parts[0].line.pk], tuple(parts)) for parts in by_recipe.values()]


def _put_in(lines: Sequence[OrderLine], name: str, rows: QuerySet[Any]) -> None:
    """The rows the lines point at, each read once: many lines are of one blend in one package."""
    found = rows.in_bulk({getattr(line, f"{name}_id") for line in lines})
    for line in lines:
        setattr(line, name, found[getattr(line, f"{name}_id")])


def _choices(parts: Sequence[LoadPart], tanks: Sequence[Tank]) -> tuple[TankChoice, ...]:
    """Tanks of one size take as many loads; only a refusal names the tank."""
    loads: dict[tuple[int, int], int] = {}
    found = []
    for tank in tanks:
        size = (tank.capacity_gal, tank.smallest_gal)
        choice = TankChoice(tank, loads[size]) if size in loads else _choice(parts, tank)
        if not choice.refusal:
            loads[size] = choice.loads
        found.append(choice)
    return tuple(found)


def _choice(parts: Sequence[LoadPart], tank: Tank) -> TankChoice:
    try:
        return TankChoice(tank, len(split_into_loads(parts, tank)))
    except BadInput as refused:
        return TankChoice(tank, 0, refused.message)
