"""From orders to tank loads: each order by itself, or orders of one recipe together."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import Role, require_role
from formulas.models import BlendRevision
from orders.models import Batch, BatchPart, Order, OrderLine, Tank
from orders.planning.actions.promises import promise_of_default_load
from orders.planning.batch_plan import AskedLoad, plan_load
from orders.planning.label_lines import all_kept
from orders.planning.load_question import LoadRecipe, load_recipe
from orders.planning.loads import Load, LoadPart, load_gal, split_into_loads
from orders.planning.lot_choice import lots_on_hand
from orders.planning.parts import LabelsOfLines, unsaved_parts
from orders.planning.planned_recipes import making_revisions
from orders.planning.same_recipe import made_as
from orders.planning.tank_heel import heel_before
from orders.planning.unplanned_lines import unplanned_parts, with_what_a_plan_needs
from orders.records.moves import move, note, require_move
from orders.records.numbering import next_number

BATCH_PREFIX: Final = "B"
PLANNERS: Final = (Role.PLANT, Role.FORMULATOR, Role.OFFICE)


def plan_batches(*, order: Order, tank: Tank, acting_user: User) -> list[Batch]:
    """One batch per tank load for everything of the order that no live batch covers yet.

    Raises IllegalMove when the order is not open or planned or nothing is left to plan, and
    BadInput when the tank does not suit or a load cannot be weighed; then nothing is planned.
    """
    require_role(acting_user, *PLANNERS)
    _require_in_use(tank)
    with transaction.atomic():
        _locked_orders([order.pk])
        lines = with_what_a_plan_needs(order.lines.all())
        revisions = making_revisions(lines)
        batches = [
            batch
            for line in lines
            for batch in _plan(unplanned_parts([line]), revisions[line.pk], tank, acting_user)
        ]
        if not batches:
            raise IllegalMove(_("All of %(order)s is planned already.") % {"order": order.number})
        _follow(batches, tank, acting_user)
    return batches


def plan_together(*, lines: Sequence[OrderLine], tank: Tank, acting_user: User) -> list[Batch]:
    """Plan what is left of several order lines of one recipe as common tank loads.

    The lines are dealt out by due date. Raises as ``plan_batches`` does, and BadInput when the
    lines are not the same to make (``same_recipe``). The plan carries the first line's name,
    each part its own.
    """
    require_role(acting_user, *PLANNERS)
    _require_in_use(tank)
    if not lines:
        raise BadInput(_("Choose at least one order to plan."))
    with transaction.atomic():
        _locked_orders({line.order_id for line in lines})
        lines = with_what_a_plan_needs(lines)
        batches = _plan(unplanned_parts(lines), _one_revision(lines), tank, acting_user)
        if not batches:
            raise IllegalMove(_("All of these orders is planned already."))
        _follow(batches, tank, acting_user)
    return batches


def combine_batches(*, batches: Sequence[Batch], acting_user: User) -> list[Batch]:
    """Plan batches of one recipe and tank anew as fewer loads; the old ones are cancelled.

    Only what nobody has charged yet. IllegalMove when a batch is past planning or fewer loads
    would not hold it all; BadInput when the batches do not belong together.
    """
    require_role(acting_user, *PLANNERS)
    with transaction.atomic():
        parts = BatchPart.objects.filter(batch__in=batches)
        orders = _locked_orders(set(parts.values_list("order_line__order", flat=True)))
        old = list(
            Batch.objects.select_for_update(of=("self",))
            .filter(pk__in=[batch.pk for batch in batches])
            .select_related("tank")
            .order_by("pk")
        )
        if len(old) < 2:
            raise BadInput(_("Choose at least two batches to combine."))
        if len({batch.tank_id for batch in old}) > 1:
            raise BadInput(_("These batches are planned for different tanks."))
        tank = old[0].tank
        _require_in_use(tank)
        numbers = ", ".join(batch.number for batch in old)
        for batch in old:
            if batch.status != Batch.Status.PLANNED:
                raise IllegalMove(
                    _("%(batch)s is %(status)s already.")
                    % {"batch": batch.number, "status": batch.get_status_display()}
                )
            why = f"Combined into common loads: {numbers}."
            move(batch, Batch.Status.CANCELLED, acting_user=acting_user, why=why)
        quantities = dict(parts.order_by().values_list("order_line").annotate(sum=Sum("quantity")))
        lines = with_what_a_plan_needs(OrderLine.objects.filter(pk__in=quantities))
        wanted = [LoadPart(line, quantities[line.pk]) for line in lines]
        new = _plan(wanted, _one_revision(lines), tank, acting_user)
        if len(new) >= len(old):
            volume, capacity = (
                house().volume(gal, 0) for gal in (load_gal(wanted), tank.capacity_gal)
            )
            raise IllegalMove(
                _(
                    "%(numbers)s need %(loads)s loads of %(tank)s also when combined"
                    " (%(volume)s into %(capacity)s)."
                )
                % {
                    "numbers": numbers,
                    "loads": len(new),
                    "tank": tank.name,
                    "volume": volume,
                    "capacity": capacity,
                }
            )
        why = f"{numbers} combined into {', '.join(batch.number for batch in new)}."
        for order in orders:
            note(order, acting_user=acting_user, why=why)
    return new


def _require_in_use(tank: Tank) -> None:
    if not tank.active:
        raise BadInput(
            _("%(tank)s is out of use.") % {"tank": tank.name},
            fields={"tank": _("Choose another tank.")},
        )


def _locked_orders(ids: Iterable[int]) -> list[Order]:
    """The orders, each open or planned, held until commit.

    Two people planning at once: the second waits here and finds nothing left to plan.
    """
    orders = list(Order.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk"))
    for order in orders:
        if order.status != Order.Status.PLANNED:
            require_move(order, Order.Status.PLANNED)
    return orders


def _one_revision(lines: Sequence[OrderLine]) -> BlendRevision:
    """The first line's revision, which all the others are the same to make as.

    BadInput when they are not: other stocks or shares, or another promise.
    """
    by_line = making_revisions(lines)
    revisions = {by_line[line.pk].pk: by_line[line.pk] for line in lines}
    first = made_as(revisions.values())
    if len(set(first.values())) > 1:
        names = ", ".join(str(revision) for revision in revisions.values())
        raise BadInput(
            _("These orders are made by different recipes: %(names)s.") % {"names": names}
        )
    return next(iter(revisions.values()))


def _plan(
    wanted: Sequence[LoadPart], revision: BlendRevision, tank: Tank, acting_user: User
) -> list[Batch]:
    if not wanted:
        return []
    recipe = load_recipe(revision, timezone.localdate())
    loads = split_into_loads(wanted, tank)
    labels = _labels(wanted, acting_user)
    return [
        _plan_batch(load, tank, recipe, labels, (number, len(loads)), acting_user)
        for number, load in enumerate(loads, start=1)
    ]


def _labels(wanted: Sequence[LoadPart], acting_user: User) -> LabelsOfLines:
    """The label lines promised of each line's product; written down now where there are none."""
    revisions = making_revisions([part.line for part in wanted])
    of_revision: dict[int, Mapping[str, Decimal]] = {}
    for revision in revisions.values():
        if revision.pk not in of_revision:
            parts = [part for part in wanted if revisions[part.line.pk].pk == revision.pk]
            promise = promise_of_default_load(
                recipe=load_recipe(revision, timezone.localdate()),
                volume_gal=load_gal(parts),
                acting_user=acting_user,
            )
            of_revision[revision.pk] = promise.promised.lines_pct
    return {line: of_revision[revision.pk] for line, revision in revisions.items()}


def _plan_batch(
    load: Load,
    tank: Tank,
    recipe: LoadRecipe,
    labels: LabelsOfLines,
    of_loads: tuple[int, int],
    acting_user: User,
) -> Batch:
    plan = plan_load(
        AskedLoad(
            recipe=recipe,
            tank=tank,
            volume_gal=float(load_gal(load)),
            lots=lots_on_hand(recipe.rows.values(), timezone.localdate()),
            printed_pct=all_kept(labels[part.line.pk] for part in load),
        ),
        heel_before(tank),
    )
    batch = Batch.objects.create(
        number=next_number(BATCH_PREFIX),
        load_number=of_loads[0],
        load_count=of_loads[1],
        tank=tank,
        target_gal=plan.volume_gal,
        target_lb=plan.mass_lb,
        plan=plan.to_json(),
        created_by=acting_user,
    )
    parts = unsaved_parts(load, plan, labels)
    for part in parts:
        part.batch = batch
    BatchPart.objects.bulk_create(parts)
    orders = ", ".join(dict.fromkeys(part.consignment.order_number for part in parts))
    note(batch, acting_user=acting_user, why=f"Planned for order {orders}.", new=True)
    return batch


def _follow(batches: Sequence[Batch], tank: Tank, acting_user: User) -> None:
    """The orders of planned batches are planned."""
    numbers: dict[Order, list[str]] = {}
    parts = BatchPart.objects.filter(batch__in=batches).order_by("batch", "position")
    for part in parts.select_related("batch", "order_line__order"):
        numbers.setdefault(part.order_line.order, []).append(part.batch.number)
    for order, of_order in numbers.items():
        why = f"Planned in {tank.name}: {', '.join(dict.fromkeys(of_order))}."
        if order.status == Order.Status.OPEN:
            move(order, Order.Status.PLANNED, acting_user=acting_user, why=why)
        else:
            note(order, acting_user=acting_user, why=why)
